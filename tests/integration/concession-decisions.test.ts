import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import {
  claim,
  createTestEntry,
  createTestEvent,
  gate,
  GOOD_ANSWERS,
  signOff,
  SMALL_RULE_SET,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { actionsOf, factsOf, historyOf, ordered, sql } from '../support/records.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';
const END = '2026-06-13T12:00:00.000Z';
const LATER = '2026-06-13T15:00:00.000Z';
const OLD_FLUID = { ...GOOD_ANSWERS, 'brake-fluid.flushed-on': '2024-01-01' };
const LONG_PEDAL = { ...GOOD_ANSWERS, 'brake.pedal': 'long' };
const LOOKED = [
  { item: 'brake-fluid.flushed-on', result: 'ok' },
  { item: 'brake.pedal', result: 'ok' },
];
/** The small set, where an exception to the pedal rule needs two people. */
const RULES = {
  ...SMALL_RULE_SET,
  rules: SMALL_RULE_SET.rules.map((rule) => (rule.id === 'pedal-firm' ? { ...rule, safetyCritical: true } : rule)),
};

let t: TestApp;
let event: TestEvent;
let stickers = 0;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t, RULES);
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

type As = Parameters<TestApp['api']>[0];
const grant = (entryId: string, body: object = {}, as: As = 'chief') =>
  t
    .api(as)
    .post(`/v1/entries/${entryId}/concessions`)
    .send({ ruleId: 'fluid-age', reason: 'papers follow', expiresAt: END, ...body });
const grantPedal = (entryId: string) => grant(entryId, { ruleId: 'pedal-firm' });
const approve = (id: string, as: As = 'organizer') => t.api(as).post(`/v1/concessions/${id}/approve`);
const revoke = (id: string, as: As = 'chief', body: object = { reason: 'not as it was said' }) =>
  t.api(as).post(`/v1/concessions/${id}/revoke`).send(body);
const stateOf = async (id: string): Promise<string> => (await t.api('marshal').get(`/v1/concessions/${id}`)).body.state;
const tickets = (entryId: string) =>
  t.deps.db.prisma.ticket.count({ where: { entryId, state: { in: ['waiting', 'claimed'] } } });

async function declared(answers: unknown = OLD_FLUID): Promise<TestEntry> {
  const entry = await createTestEntry(t, event);
  expect((await submit(t, entry, answers)).body.verdict).toBe('barred');
  return entry;
}

async function acceptClaim(claimId: string) {
  stickers += 1;
  const signed = await signOff(t, claimId, { decision: 'accept', stickerNumber: `D${stickers}`, checks: LOOKED });
  expect(signed.status, JSON.stringify(signed.body)).toBe(201);
  return signed;
}

describe('a concession to a safety-critical rule', () => {
  test('counts nothing until a second person approves it', async () => {
    const entry = await declared(LONG_PEDAL);
    const granted = await grantPedal(entry.entryId);
    expect(granted.status).toBe(201);
    expect(granted.body).toMatchObject({ state: 'awaiting-approval', needsSecondPerson: true });
    expect(granted.body.clearance).toMatchObject({ status: 'barred', reason: 'Barred: Brake pedal.' });
    expect(await tickets(entry.entryId)).toBe(0);
    expect(await ordered(t, granted)).toEqual([]);
    expect((await submit(t, entry, LONG_PEDAL)).body.verdict).toBe('barred');
    const { concessionId } = granted.body;

    const approved = await approve(concessionId);
    expect(approved.status, JSON.stringify(approved.body)).toBe(200);
    expect(approved.body).toMatchObject({
      state: 'in-force',
      approvedBy: 'Test organizer',
      approvedAt: TEST_NOW,
      clearance: { status: 'in-line' },
    });
    expect(await tickets(entry.entryId)).toBe(1);
    expect((await historyOf(t, entry.entryId)).at(-1)).toMatchObject({
      action: 'concession.approved',
      actorRole: 'organizer',
      data: { concessionId, event: { type: 'conceded', ruleId: 'pedal-firm', until: END } },
    });
    expect((await ordered(t, approved)).map((job) => job.payload)).toEqual([
      { entryId: entry.entryId, kind: 'concession.approved', id: concessionId },
    ]);
    await acceptClaim((await claim(t, event, entry.carNumber)).body.claimId);
    t.clock.set('2026-06-13T11:59:59.999Z');
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: true });
    t.clock.set(END);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'barred' });
  });

  test('is not approved by whoever granted it, under any of his tokens', async () => {
    const entry = await declared(LONG_PEDAL);
    const { concessionId } = (await grantPedal(entry.entryId)).body;
    const sameName = await t.mint('organizer', { holder: 'TEST  chief.' });
    // U+0435 and U+0456 of UTS 39, confusables.txt
    const sameLook = await t.mint('organizer', { holder: 'T\u0435st ch\u0456ef' });
    for (const as of ['chief', sameName, sameLook] as const) {
      const answer = await approve(concessionId, as);
      expect(answer.status).toBe(403);
      expect(answer.body.code).toBe('second-person-needed');
    }
    expect(await stateOf(concessionId)).toBe('awaiting-approval');
    // The database knows it too.
    await expect(
      sql(t, 'UPDATE concessions SET approved_by = granted_by, approved_at = now() WHERE id = $1', [concessionId]),
    ).rejects.toThrow('concessions_second_person_check');
    const other = await t.mint('chief', { holder: 'Another chief' });
    expect((await approve(concessionId, other)).body).toMatchObject({ state: 'in-force' });
  });

  test('is not approved by a person named on the entry, nor by the wrong roles', async () => {
    const entry = await declared(LONG_PEDAL);
    const { concessionId } = (await grantPedal(entry.entryId)).body;
    for (const as of ['inspector', 'marshal', entry.entrant] as const)
      expect((await approve(concessionId, as)).status).toBe(403);
    const named = await t.mint('organizer', { holder: `entrant of ${entry.carNumber}` });
    expect((await approve(concessionId, named)).body.code).toBe('conflict-of-interest');
    expect(await stateOf(concessionId)).toBe('awaiting-approval');
  });

  test('is approved once, however many come at once', async () => {
    const entry = await declared(LONG_PEDAL);
    const { concessionId } = (await grantPedal(entry.entryId)).body;
    const answers = await Promise.all(Array.from({ length: 6 }, () => approve(concessionId)));
    expect(answers.map((answer) => answer.status).toSorted()).toEqual([200, 409, 409, 409, 409, 409]);
    expect((await approve(concessionId)).body).toMatchObject({ code: 'state-moved-on', currentState: 'in-force' });
    expect((await actionsOf(t, entry.entryId)).filter((action) => action === 'concession.approved')).toHaveLength(1);
    expect(await tickets(entry.entryId)).toBe(1);
  });

  test('is not approved when nothing waits: one-person, expired, revoked, withdrawn, unknown', async () => {
    const entry = await declared(LONG_PEDAL);
    const plain = (await grant(entry.entryId)).body.concessionId;
    expect((await approve(plain)).body).toMatchObject({ code: 'state-moved-on', currentState: 'in-force' });
    const revoked = (await grantPedal(entry.entryId)).body.concessionId;
    await revoke(revoked).expect(200);
    expect((await approve(revoked)).body).toMatchObject({ code: 'state-moved-on', currentState: 'revoked' });
    const waiting = (await grantPedal(entry.entryId)).body.concessionId;
    t.clock.set(END);
    expect((await approve(waiting)).body).toMatchObject({ code: 'state-moved-on', currentState: 'expired' });
    t.clock.set(TEST_NOW);
    await t.api('organizer').post(`/v1/entries/${entry.entryId}/withdraw`).expect(200);
    expect((await approve(waiting)).body).toMatchObject({ code: 'state-moved-on', currentState: 'withdrawn' });
    expect((await approve(UNKNOWN)).status).toBe(404);
  });
});

describe('a revoked concession', () => {
  test('counts no more at once: the car leaves the line, and whoever has claimed it learns so', async () => {
    const entry = await declared();
    const { concessionId } = (await grant(entry.entryId)).body;
    const { body } = await claim(t, event, entry.carNumber);
    const revoked = await revoke(concessionId, 'organizer');
    expect(revoked.status, JSON.stringify(revoked.body)).toBe(200);
    expect(revoked.body).toMatchObject({
      state: 'revoked',
      revokedBy: 'Test organizer',
      revokedAt: TEST_NOW,
      revokeReason: 'not as it was said',
      clearance: { status: 'barred', reason: 'Barred: Brake fluid age.' },
    });
    expect(await tickets(entry.entryId)).toBe(0);
    const signed = await signOff(t, body.claimId, { decision: 'accept', stickerNumber: 'D-no', checks: LOOKED });
    expect(signed.body).toMatchObject({ code: 'state-moved-on', currentState: 'void' });
    expect((await historyOf(t, entry.entryId)).at(-1)).toMatchObject({
      action: 'concession.revoked',
      data: { concessionId, ruleId: 'fluid-age', reason: 'not as it was said', event: { type: 'concession-revoked' } },
    });
    expect((await ordered(t, revoked)).map((job) => job.payload)).toEqual([
      { entryId: entry.entryId, kind: 'concession.revoked', id: concessionId },
    ]);
    expect((await submit(t, entry, OLD_FLUID)).body.verdict).toBe('barred');
    expect((await t.api('organizer').get(`/v1/entries/${entry.entryId}`)).body.concessions).toEqual([]);
    // A new one brings the car back to the line.
    expect((await grant(entry.entryId)).body.clearance.status).toBe('in-line');
  });

  test('takes an accepted car off the track at that moment', async () => {
    const entry = await declared();
    const { concessionId } = (await grant(entry.entryId)).body;
    await acceptClaim((await claim(t, event, entry.carNumber)).body.claimId);
    t.clock.set('2026-06-13T08:00:00Z');
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: true });
    await revoke(concessionId).expect(200);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'barred' });
  });

  test('leaves another to the same rule in force', async () => {
    const entry = await declared();
    const longer = (await grant(entry.entryId, { expiresAt: LATER })).body.concessionId;
    await grant(entry.entryId, { condition: 'look again' });
    await acceptClaim((await claim(t, event, entry.carNumber)).body.claimId);
    expect((await factsOf(t, entry.entryId)).declared?.bars).toMatchObject([{ concededUntil: LATER }]);
    expect((await revoke(longer)).body.clearance.status).not.toBe('barred');
    expect((await factsOf(t, entry.entryId)).declared?.bars).toMatchObject([
      { concededUntil: END, condition: 'look again' },
    ]);
  });

  test('to what only the inspector measures leaves the car on the line: the declaration did not need it', async () => {
    const boil = {
      id: 'fluid-boils',
      title: 'Brake fluid boiling point',
      items: ['brake-fluid.measured-boiling-point'],
      test: { kind: 'limit', item: 'brake-fluid.measured-boiling-point', atLeast: { value: 200, unit: '°C' } },
      effect: 'bar',
      message: 'It boils too early.',
      fix: 'Flush it.',
      basis: { kind: 'common-practice' },
    };
    const own = await createTestEvent(t, { ...SMALL_RULE_SET, rules: [...SMALL_RULE_SET.rules, boil] });
    const entry = await createTestEntry(t, own);
    const { concessionId } = (await grant(entry.entryId, { ruleId: 'fluid-boils' })).body;
    await submit(t, entry);
    expect((await factsOf(t, entry.entryId)).declared?.bars).toMatchObject([{ concededUntil: END }]);
    expect((await revoke(concessionId)).body.clearance.status).toBe('in-line');
    expect((await factsOf(t, entry.entryId)).declared?.bars).toEqual([]);
    expect(await tickets(entry.entryId)).toBe(1);
    const { claimId } = (await claim(t, own, entry.carNumber)).body;
    const signed = await signOff(t, claimId, { decision: 'accept', stickerNumber: 'D-boil', checks: [] });
    expect(signed.body).toMatchObject({ code: 'bar-stands', standing: [{ ruleId: 'fluid-boils' }] });
  });

  test('is revoked once; an expired one, one of a withdrawn entry and an unknown one are not', async () => {
    const entry = await declared();
    const first = (await grant(entry.entryId)).body.concessionId;
    const answers = await Promise.all(Array.from({ length: 5 }, () => revoke(first)));
    expect(answers.map((answer) => answer.status).toSorted()).toEqual([200, 409, 409, 409, 409]);
    expect((await revoke(first)).body).toMatchObject({ code: 'state-moved-on', currentState: 'revoked' });
    const second = (await grant(entry.entryId)).body.concessionId;
    t.clock.set(END);
    expect((await revoke(second)).body).toMatchObject({ code: 'state-moved-on', currentState: 'expired' });
    t.clock.set(TEST_NOW);
    await t.api('organizer').post(`/v1/entries/${entry.entryId}/withdraw`).expect(200);
    expect((await revoke(second)).body).toMatchObject({ code: 'state-moved-on', currentState: 'withdrawn' });
    expect((await revoke(UNKNOWN)).status).toBe(404);
  });

  test('needs a reason, and a chief or an organizer', async () => {
    const entry = await declared();
    const { concessionId } = (await grant(entry.entryId)).body;
    expect((await revoke(concessionId, 'chief', {})).body.errors).toMatchObject([{ pointer: '/reason' }]);
    for (const as of ['inspector', 'marshal', entry.entrant] as const)
      expect((await revoke(concessionId, as)).status).toBe(403);
    expect(await stateOf(concessionId)).toBe('in-force');
  });

  test('before it was approved changes nothing at the gate', async () => {
    const entry = await declared(LONG_PEDAL);
    const before = await factsOf(t, entry.entryId);
    const { concessionId } = (await grantPedal(entry.entryId)).body;
    expect((await revoke(concessionId)).body).toMatchObject({ state: 'revoked', clearance: { status: 'barred' } });
    expect(await factsOf(t, entry.entryId)).toEqual(before);
  });
});

describe('reading', () => {
  test('an entry lists all of them with their state; the entrant reads the own ones', async () => {
    const entry = await declared(LONG_PEDAL);
    const { entryId } = entry;
    const later = (await grant(entryId, { expiresAt: LATER })).body.concessionId;
    const short = (await grant(entryId)).body.concessionId;
    const waits = (await grantPedal(entryId)).body.concessionId;
    const gone = (await grant(entryId)).body.concessionId;
    await revoke(gone).expect(200);
    t.clock.set(END);
    const waitsStill = (await grant(entryId, { ruleId: 'pedal-firm', expiresAt: LATER })).body.concessionId;
    const { body } = await t.api(entry.entrant).get(`/v1/entries/${entryId}/concessions`).expect(200);
    expect(
      body.concessions.map((one: { concessionId: string; state: string }) => [one.concessionId, one.state]),
    ).toEqual([
      [later, 'in-force'],
      [short, 'expired'],
      [waits, 'expired'],
      [gone, 'revoked'],
      [waitsStill, 'awaiting-approval'],
    ]);
    expect((await t.api(entry.entrant).get(`/v1/concessions/${later}`)).body).toMatchObject({
      carNumber: entry.carNumber,
      state: 'in-force',
      clearance: { admit: false },
    });
    const other = await createTestEntry(t, event);
    for (const path of [`/v1/concessions/${later}`, `/v1/entries/${entryId}/concessions`])
      expect((await t.api(other.entrant).get(path)).status).toBe(404);
    for (const path of [`/v1/concessions/${UNKNOWN}`, `/v1/entries/${UNKNOWN}/concessions`])
      expect((await t.api('chief').get(path)).status).toBe(404);
  });
});
