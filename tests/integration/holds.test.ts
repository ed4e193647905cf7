import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
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
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { actionsOf, carFactsOf, carHistoryOf, ordered } from '../support/records.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';
const ON_THE_DAY = '2026-06-13T08:00:00.000Z';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

const hold = (entryId: string, reason = 'contact in session 2', as: Parameters<TestApp['api']>[0] = 'inspector') =>
  t.api(as).post(`/v1/entries/${entryId}/holds`).send({ reason });
const lift = (
  holdId: string,
  body: object = { reason: 'looked at, fine' },
  as: Parameters<TestApp['api']>[0] = 'chief',
) => t.api(as).post(`/v1/holds/${holdId}/lift`).send(body);
const accepted = async (): Promise<TestEntry> => {
  const entry = await createTestEntry(t, event);
  expect((await accept(t, event, entry)).status).toBe(201);
  t.clock.set(ON_THE_DAY);
  expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: true });
  return entry;
};

describe('a hold', () => {
  test('takes the clearance away at once and tells the entrant', async () => {
    const entry = await accepted();
    const answer = await hold(entry.entryId);
    expect(answer.status).toBe(201);
    expect(answer.body).toEqual({
      holdId: expect.any(String),
      entryId: entry.entryId,
      carNumber: entry.carNumber,
      about: 'car',
      kind: 'other',
      byEntrant: false,
      reason: 'contact in session 2',
      placedBy: 'Test inspector',
      placedAt: ON_THE_DAY,
      inspectAgain: [],
      alsoStopped: [],
      warnings: [],
      requiresReinspection: false,
      clearance: {
        admit: false,
        status: 'held',
        reason: 'Held: contact in session 2.',
        validUntil: null,
        conditions: [],
      },
    });
    expect(await gate(t, event, entry.carNumber)).toMatchObject({
      admit: false,
      status: 'held',
      reason: 'Held: contact in session 2.',
    });
    const row = await t.deps.db.prisma.hold.findUniqueOrThrow({ where: { id: answer.body.holdId } });
    expect(row).toMatchObject({ entryId: entry.entryId, placedName: 'Test inspector', liftedAt: null });
    expect((await carHistoryOf(t, entry.entryId)).at(-1)).toMatchObject({
      action: 'hold.placed',
      actorRole: 'inspector',
    });
    expect(await ordered(t, answer)).toEqual([
      { name: 'entrant.tell', payload: { entryId: entry.entryId, kind: 'hold.placed', id: row.id }, runAt: undefined },
    ]);
    const { body } = await t.api('organizer').get(`/v1/entries/${entry.entryId}`);
    expect(body.holds).toEqual([
      {
        holdId: row.id,
        reason: row.reason,
        about: 'car',
        kind: 'other',
        byEntrant: false,
        inspectAgain: [],
        placedBy: 'Test inspector',
        placedAt: ON_THE_DAY,
      },
    ]);
  });

  test('is placed by every member of the staff, and by the entrant on his own car', async () => {
    const entry = await createTestEntry(t, event);
    for (const role of ['organizer', 'chief', 'inspector', 'marshal'] as const)
      expect((await hold(entry.entryId, 'x', role)).status).toBe(201);
    expect((await hold(entry.entryId, 'x', entry.entrant)).status).toBe(201);
    const other = await createTestEntry(t, event);
    expect((await hold(other.entryId, 'x', entry.entrant)).status).toBe(404);
    expect((await hold(UNKNOWN)).status).toBe(404);
    expect((await hold(entry.entryId, ' ')).status).toBe(400);
  });

  test('also stands on a car that waits at the line, and outlives its sign-off', async () => {
    const entry = await createTestEntry(t, event);
    await submit(t, entry);
    await hold(entry.entryId, 'leak seen in the paddock');
    const claimed = await claim(t, event, entry.carNumber);
    const signed = await signOff(t, claimed.body.claimId, { decision: 'accept', stickerNumber: 'H1' });
    expect(signed.body.clearance).toMatchObject({ admit: false, status: 'held' });
    t.clock.set(ON_THE_DAY);
    expect((await gate(t, event, entry.carNumber)).admit).toBe(false);
  });

  test('is not placed on a withdrawn entry', async () => {
    const entry = await createTestEntry(t, event);
    await t.api('organizer').post(`/v1/entries/${entry.entryId}/withdraw`).expect(200);
    const answer = await hold(entry.entryId);
    expect(answer.status).toBe(409);
    expect(answer.body.currentState).toBe('withdrawn');
  });
});

describe('a lift', () => {
  test('gives the clearance back', async () => {
    const entry = await accepted();
    const { holdId } = (await hold(entry.entryId)).body;
    const answer = await lift(holdId);
    expect(answer.status).toBe(200);
    expect(answer.body).toMatchObject({
      holdId,
      liftedBy: 'Test chief',
      liftedAt: ON_THE_DAY,
      liftReason: 'looked at, fine',
      requiresReinspection: false,
      clearance: { admit: true, status: 'clear' },
    });
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: true, status: 'clear' });
    expect((await carHistoryOf(t, entry.entryId)).at(-1)).toMatchObject({
      action: 'hold.lifted',
      actorRole: 'chief',
      data: { reason: 'looked at, fine' },
    });
    expect((await ordered(t, answer)).map((job) => job.payload)).toEqual([
      { entryId: entry.entryId, kind: 'hold.lifted', id: holdId },
    ]);
  });

  test('of one of several leaves the others standing', async () => {
    const entry = await accepted();
    const first = (await hold(entry.entryId, 'leak')).body.holdId;
    const second = (await hold(entry.entryId, 'noise')).body.holdId;
    expect((await gate(t, event, entry.carNumber)).reason).toBe('Held: leak; noise.');
    expect((await lift(first)).body.clearance).toMatchObject({ admit: false, status: 'held', reason: 'Held: noise.' });
    expect((await lift(second)).body.clearance).toMatchObject({ admit: true });
  });

  test('that asks to look again sends the car through the line', async () => {
    const entry = await accepted();
    const { holdId } = (await hold(entry.entryId, 'contact')).body;
    const answer = await lift(holdId, { reason: 'toe to be measured', requireReinspection: true });
    expect(answer.body).toMatchObject({ requiresReinspection: true, clearance: { admit: false, status: 'in-line' } });
    expect((await gate(t, event, entry.carNumber)).reason).toContain('after the hold "contact"');
    // Declarations are closed on the day, but the line works.
    const claimed = await claim(t, event, entry.carNumber);
    expect(claimed.status).toBe(201);
    const again = await signOff(t, claimed.body.claimId, { decision: 'accept', stickerNumber: `R${entry.carNumber}` });
    expect(again.status).toBe(201);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: true, status: 'clear' });
  });

  test('that asks to look again ends a claim under way and gives the car one new place', async () => {
    const entry = await createTestEntry(t, event);
    await submit(t, entry);
    const claimed = await claim(t, event, entry.carNumber);
    const { holdId } = (await hold(entry.entryId)).body;
    await lift(holdId, { reason: 'again', requireReinspection: true });
    const late = await signOff(t, claimed.body.claimId, { decision: 'accept', stickerNumber: 'H2' });
    expect(late.body).toMatchObject({ code: 'state-moved-on', currentState: 'void' });
    const live = await t.deps.db.prisma.ticket.count({ where: { entryId: entry.entryId, state: 'waiting' } });
    expect(live).toBe(1);
  });

  test('that asks to look again gives a barred car no place', async () => {
    const entry = await createTestEntry(t, event);
    await submit(t, entry, { ...GOOD_ANSWERS, 'brake.pedal': 'long' });
    const { holdId } = (await hold(entry.entryId)).body;
    const answer = await lift(holdId, { reason: 'again', requireReinspection: true });
    expect(answer.body.clearance.status).toBe('barred');
    expect(await t.deps.db.prisma.ticket.count({ where: { entryId: entry.entryId } })).toBe(0);
  });

  test('of any kind is not for inspectors or marshals, and needs a reason', async () => {
    const entry = await createTestEntry(t, event);
    const { holdId } = (await hold(entry.entryId)).body;
    for (const role of ['inspector', 'marshal'] as const)
      expect((await lift(holdId, undefined, role)).status).toBe(403);
    expect((await lift(holdId, undefined, entry.entrant)).status).toBe(403);
    expect((await lift(holdId, {})).status).toBe(400);
    expect((await lift(UNKNOWN)).status).toBe(404);
    expect((await lift(holdId, undefined, 'organizer')).status).toBe(200);
  });

  test('is not for whoever is named on the entry', async () => {
    const entry = await accepted();
    const own = await t.mint('chief', { holder: `ENTRANT of  ${entry.carNumber}` });
    const { holdId } = (await hold(entry.entryId)).body;
    const answer = await lift(holdId, undefined, own);
    expect(answer.status).toBe(403);
    expect(answer.body.code).toBe('conflict-of-interest');
    expect((await gate(t, event, entry.carNumber)).admit).toBe(false);
  });

  test('happens once, also when ten people lift at once', async () => {
    const entry = await accepted();
    const { holdId } = (await hold(entry.entryId)).body;
    const answers = await Promise.all(Array.from({ length: 10 }, () => lift(holdId)));
    expect(answers.map((answer) => answer.status).sort()).toEqual([200, ...Array.from({ length: 9 }, () => 409)]);
    expect(answers.find((answer) => answer.status === 409)?.body).toMatchObject({
      code: 'state-moved-on',
      currentState: 'lifted',
    });
    expect((await actionsOf(t, entry.entryId)).filter((action) => action === 'hold.lifted')).toHaveLength(1);
  });

  test('and a hold at the same moment: the hold stands', async () => {
    const entry = await accepted();
    for (let round = 0; round < 5; round += 1) {
      const { holdId } = (await hold(entry.entryId, `first ${round}`)).body;
      const [placed] = await Promise.all([hold(entry.entryId, `second ${round}`), lift(holdId)]);
      expect((await carFactsOf(t, entry.entryId)).holds).toMatchObject([
        { holdId: placed.body.holdId, reason: `second ${round}` },
      ]);
      expect((await gate(t, event, entry.carNumber)).admit).toBe(false);
      await lift(placed.body.holdId);
    }
  });
});
