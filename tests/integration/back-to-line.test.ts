import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import {
  accept,
  claim,
  createTestEntry,
  createTestEvent,
  gate,
  GOOD_ANSWERS,
  signOff,
  submit,
} from '../support/event.ts';
import type { TestEntry, TestEvent } from '../support/event.ts';
import { historyOf } from '../support/records.ts';

let t: TestApp;
let event: TestEvent;
const IN_WINDOW = '2026-06-10T08:00:00.000Z';
const RACE_DAY = '2026-06-13T09:00:00.000Z';

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());

const back = (entry: TestEntry, as: Parameters<TestApp['api']>[0] = 'inspector', reason = 'hose was changed') =>
  t.api(as).post(`/v1/entries/${entry.entryId}/back-to-line`).send({ reason });

async function refused(checks: object[] = [], overrides: Record<string, unknown> = {}): Promise<TestEntry> {
  t.clock.set(IN_WINDOW);
  const entry = await createTestEntry(t, event, overrides);
  expect((await submit(t, entry)).status).toBe(201);
  t.clock.set(RACE_DAY);
  const claimed = await claim(t, event, entry.carNumber);
  const decided = await signOff(t, claimed.body.claimId, { decision: 'refuse', note: 'brake hose chafed', checks });
  expect(decided.status).toBe(201);
  return entry;
}

describe('back to the line', () => {
  test('a refused car waits again after the window, with why, and can be claimed and accepted', async () => {
    const entry = await refused();
    const sent = await back(entry).expect(200);
    expect(sent.body).toMatchObject({
      carNumber: entry.carNumber,
      clearance: { admit: false, status: 'in-line', reason: expect.stringContaining('hose was changed') },
    });
    const { body } = await t.api('marshal').get(`/v1/events/${event.eventId}/line`).expect(200);
    const ticket = body.tickets.find((one: { ticketId: string }) => one.ticketId === sent.body.ticketId);
    expect(ticket).toMatchObject({ entryId: entry.entryId, place: sent.body.place });
    expect((await historyOf(t, entry.entryId)).at(-1)).toMatchObject({
      action: 'entry.sent-back',
      data: { reason: 'hose was changed' },
    });
    const again = await back(entry).expect(409);
    expect(again.body).toMatchObject({ code: 'state-moved-on', currentState: 'in-line', place: sent.body.place });
    const claimed = await claim(t, event, entry.carNumber);
    await signOff(t, claimed.body.claimId, { decision: 'accept', stickerNumber: `B${entry.carNumber}` });
    expect((await gate(t, event, entry.carNumber)).admit).toBe(true);
  });

  test('a car that was signed off for day one comes back on day two; its old sticker counts no more', async () => {
    t.clock.set(IN_WINDOW);
    const entry = await createTestEntry(t, event);
    const stickerNumber = `D${entry.carNumber}`;
    await accept(t, event, entry, { validUntil: '2026-06-13T20:00:00.000Z', stickerNumber });
    t.clock.set('2026-06-14T07:00:00.000Z');
    expect((await gate(t, event, entry.carNumber)).status).toBe('expired');
    await back(entry, 'chief', 'day two').expect(200);
    const car = await t.deps.db.prisma.$queryRaw<{ facts: { voidStickers: string[] } }[]>`
      SELECT k.facts FROM car_clearances k JOIN clearances c ON c.car_id = k.id WHERE c.entry_id = ${entry.entryId}::uuid`;
    expect(car[0]?.facts.voidStickers).toEqual([stickerNumber]);
    expect((await claim(t, event, entry.carNumber)).status).toBe(201);
  });

  test('an accepted car that goes back is admitted no more until it is accepted anew', async () => {
    t.clock.set(IN_WINDOW);
    const entry = await createTestEntry(t, event);
    await accept(t, event, entry);
    t.clock.set(RACE_DAY);
    expect((await gate(t, event, entry.carNumber)).admit).toBe(true);
    await back(entry, 'organizer').expect(200);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'in-line' });
  });

  test('is not for who has an interest, a car never declared, or one that is withdrawn', async () => {
    t.clock.set(IN_WINDOW);
    const own = await createTestEntry(t, event, { entrant: { name: 'Test chief' } });
    await accept(t, event, own);
    expect((await back(own, 'chief').expect(403)).body.code).toBe('conflict-of-interest');
    const undeclared = await createTestEntry(t, event);
    expect((await back(undeclared).expect(409)).body.currentState).toBe('no-declaration');
    await t.api('organizer').post(`/v1/entries/${undeclared.entryId}/withdraw`).send({ reason: 'gone' });
    expect((await back(undeclared).expect(409)).body.currentState).toBe('withdrawn');
  });
});

const AT_LINE = '2026-06-13T06:30:00.000Z';
const declareAtLine = (entry: TestEntry, body: object, as: Parameters<TestApp['api']>[0] = 'chief') =>
  t
    .api(as)
    .post(`/v1/entries/${entry.entryId}/inspections`)
    .set('idempotency-key', randomUUID())
    .send({ answers: GOOD_ANSWERS, ...body });

describe('the way out is named', () => {
  test('when a car that is not on the line is claimed, and when an entrant is too late', async () => {
    const entry = await refused();
    const notThere = await claim(t, event, entry.carNumber);
    expect(notThere.status).toBe(409);
    expect(notThere.body.detail).toContain('An inspector can put it back on the line.');
    const wayBack = `POST /v1/entries/${entry.entryId}/back-to-line`;
    expect(notThere.body.wayOut).toMatchObject({ operation: wayBack, roles: ['inspector', 'chief', 'organizer'] });
    const late = await submit(t, entry);
    expect(late.body).toMatchObject({ code: 'declarations-closed', wayOut: { operation: wayBack } });
    expect(late.body.detail).toContain('Ask an inspector at the line');
    const walkUp = await createTestEntry(t, event);
    const wayIn = `POST /v1/entries/${walkUp.entryId}/inspections`;
    expect((await claim(t, event, walkUp.carNumber)).body.wayOut.operation).toBe(wayIn);
    expect((await submit(t, walkUp)).body.wayOut.operation).toBe(wayIn);
    expect((await back(walkUp).expect(409)).body.wayOut.operation).toBe(wayIn);
  });
});

describe('a walk-up', () => {
  test('may be declared from the office; the record says who said it and who typed', async () => {
    t.clock.set(TEST_NOW);
    const entry = await createTestEntry(t, event);
    await declareAtLine(entry, {}, 'organizer').expect(422);
    const saidBy = `Entrant of ${entry.carNumber}`;
    await declareAtLine(entry, { saidBy }, 'organizer').expect(201);
    await submit(t, entry).then(({ status }) => expect(status).toBe(201));
    const { body } = await t.api('organizer').get(`/v1/entries/${entry.entryId}/record`).expect(200);
    expect(body.submissions).toMatchObject([{ revision: 2 }, { revision: 1, by: saidBy, typedBy: 'Test organizer' }]);
    expect(body.submissions[0]).not.toHaveProperty('typedBy');
    const interested = await t.mint('inspector', { holder: 'TEST organizer' });
    await declareAtLine(entry, { saidBy }, 'organizer').expect(201);
    expect((await claim(t, event, entry.carNumber, interested)).body.code).toBe('conflict-of-interest');
  });

  test('is declared at the line by an inspector with the entrant, and signed off by another', async () => {
    t.clock.set(AT_LINE);
    const entry = await createTestEntry(t, event);
    const saidBy = `entrant OF ${entry.carNumber}`;
    const nobody = await declareAtLine(entry, {}).expect(422);
    expect(nobody.body.errors[0].pointer).toBe('/saidBy');
    await declareAtLine(entry, { saidBy: 'A Passer-by' }).expect(422);
    const typed = await declareAtLine(entry, { saidBy }).expect(201);
    expect(typed.body.ticket).not.toBeNull();
    const stored = await t.deps.db.prisma.inspection.findUniqueOrThrow({ where: { id: typed.body.inspectionId } });
    expect(stored.submittedName).toBe(saidBy);
    expect((await historyOf(t, entry.entryId)).at(-1)).toMatchObject({
      action: 'inspection.submitted',
      actorName: 'Test chief',
      data: { typedByStaff: true },
    });
    expect((await claim(t, event, entry.carNumber, 'chief')).body.code).toBe('conflict-of-interest');
    for (const holder of ['test CHIEF', 'Test \u0421hief']) {
      const sameName = await t.mint('inspector', { holder });
      expect((await claim(t, event, entry.carNumber, sameName)).body.code).toBe('conflict-of-interest');
    }
    const others = await claim(t, event, entry.carNumber, 'inspector');
    expect(others.status).toBe(201);
    const body = { decision: 'accept', stickerNumber: `W${entry.carNumber}` };
    expect((await signOff(t, others.body.claimId, body)).status).toBe(201);
  });

  test('whoever typed it is not given the car as the next one either', async () => {
    const alone = await createTestEvent(t);
    t.clock.set(AT_LINE);
    const entry = await createTestEntry(t, alone);
    await declareAtLine(entry, { saidBy: `Entrant of ${entry.carNumber}` }, 'inspector').expect(201);
    const next = (as: 'inspector' | 'chief') => t.api(as).post(`/v1/events/${alone.eventId}/line/claims`).send({});
    await next('inspector').expect(204);
    await next('chief').expect(201);
  });

  test('an entrant says nothing for somebody else', async () => {
    t.clock.set(IN_WINDOW);
    const entry = await createTestEntry(t, event);
    const answer = await declareAtLine(entry, { saidBy: `Entrant of ${entry.carNumber}` }, entry.entrant).expect(422);
    expect(answer.body.errors[0].code).toBe('not-yours');
  });
});

describe('a claim of another', () => {
  test('is released by a chief, not by an inspector, and the history says whose it was', async () => {
    t.clock.set(IN_WINDOW);
    const entry = await createTestEntry(t, event);
    await submit(t, entry);
    const { claimId } = (await claim(t, event, entry.carNumber)).body;
    const other = await t.mint('inspector', { holder: 'Another one' });
    await t.api(other).delete(`/v1/claims/${claimId}`).expect(404);
    await t.api('chief').delete(`/v1/claims/${claimId}`).expect(204);
    const inspector = await t.deps.db.prisma.claim.findUniqueOrThrow({ where: { id: claimId } });
    expect((await historyOf(t, entry.entryId)).at(-1)).toMatchObject({
      action: 'ticket.put-back',
      actorName: 'Test chief',
      data: { claimId, releasedFrom: inspector.inspectorId },
    });
    expect((await claim(t, event, entry.carNumber, other)).status).toBe(201);
  });

  test('ends with its token', async () => {
    t.clock.set(IN_WINDOW);
    const entry = await createTestEntry(t, event);
    await submit(t, entry);
    const leaving = await t.mint('inspector', { holder: 'Leaves early' });
    const { claimId } = (await claim(t, event, entry.carNumber, leaving)).body;
    await t.api('organizer').delete(`/v1/tokens/${leaving.tokenId}`).expect(204);
    expect((await historyOf(t, entry.entryId)).at(-1)).toMatchObject({
      action: 'ticket.put-back',
      data: { claimId, releasedFrom: leaving.tokenId, because: 'token-revoked' },
    });
    expect((await claim(t, event, entry.carNumber)).status).toBe(201);
  });
});

describe('what a car was refused for', () => {
  const REFUSED = [
    { item: 'engine.leaks', position: 'engine-oil', result: 'not-ok', note: 'drips on the exhaust' },
    { item: 'pad.thickness', position: 'FL.in', value: 2 },
    { item: 'pad.thickness', position: 'FR.in', value: 8 },
    { item: 'brake.pedal', result: 'ok' },
  ];

  test('comes first at the next claim and needs a new value or state each', async () => {
    const entry = await refused(REFUSED);
    await back(entry).expect(200);
    const claimed = await claim(t, event, entry.carNumber);
    expect(claimed.body.refusals).toEqual([{ runGroup: 'Novice', note: 'brake hose chafed' }]);
    const [leak, pad, next] = claimed.body.pointsToCheck;
    expect(leak).toMatchObject({ item: 'engine.leaks', position: 'engine-oil', asked: 'refused' });
    expect(leak.why).toContain('drips on the exhaust');
    expect(pad).toMatchObject({ item: 'pad.thickness', position: 'FL.in', asked: 'refused' });
    expect(pad.why).toContain('brake hose chafed');
    expect(next.asked).not.toBe('refused');
    const decide = (checks: object[]) =>
      signOff(t, claimed.body.claimId, { decision: 'accept', stickerNumber: `R${entry.carNumber}`, checks });
    const measured = { item: 'pad.thickness', position: 'FL.in', value: 9 };
    const leakGone = { item: 'engine.leaks', position: 'engine-oil', result: 'ok' };
    const without = await decide([measured]);
    expect(without.body).toMatchObject({ code: 'points-not-checked', standing: [{ item: 'engine.leaks' }] });
    const elsewhere = await decide([leakGone, { ...measured, position: 'RL.in' }]);
    expect(elsewhere.body).toMatchObject({
      code: 'points-not-checked',
      standing: [{ item: 'pad.thickness', position: 'FL.in' }],
    });
    expect((await decide([measured, leakGone])).status).toBe(201);
  });

  test('stands against its other entry too, until the car is accepted once', async () => {
    t.clock.set(IN_WINDOW);
    const novice = await createTestEntry(t, event);
    const advanced = await createTestEntry(t, event, {
      carNumber: novice.carNumber,
      runGroupId: event.advanced,
      vehicle: undefined,
    });
    await submit(t, novice);
    await submit(t, advanced);
    const at = (runGroupId: string) =>
      t
        .api('inspector')
        .post(`/v1/events/${event.eventId}/line/claims`)
        .send({ carNumber: novice.carNumber, runGroupId });
    const first = await at(event.novice).expect(201);
    await signOff(t, first.body.claimId, { decision: 'refuse', note: 'leaks', checks: REFUSED.slice(0, 1) });
    const second = await at(event.advanced).expect(201);
    expect(second.body.pointsToCheck[0]).toMatchObject({ item: 'engine.leaks', asked: 'refused' });
    const body = { decision: 'accept', stickerNumber: `T${novice.carNumber}` };
    expect((await signOff(t, second.body.claimId, body)).body.code).toBe('points-not-checked');
    const checks = [{ item: 'engine.leaks', position: 'engine-oil', result: 'ok' }];
    expect((await signOff(t, second.body.claimId, { ...body, checks })).status).toBe(201);
    await back(novice).expect(200);
    const third = await at(event.novice).expect(201);
    expect(third.body.refusals).toEqual([]);
  });
});
