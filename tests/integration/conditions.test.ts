import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import {
  accept,
  createTestEntry,
  createTestEvent,
  gate,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { factsOf, historyOf, ordered } from '../support/records.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';
const DUE = '2026-06-13T10:00:00.000Z';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

const done = (
  entryId: string,
  conditionId: string,
  body: object = {},
  as: Parameters<TestApp['api']>[0] = 'inspector',
) => t.api(as).post(`/v1/entries/${entryId}/conditions/${conditionId}/done`).send(body);
async function accepted(
  conditions: object[] = [{ text: 'wheel torque again', dueAt: DUE }],
): Promise<{ entry: TestEntry; ids: string[] }> {
  const entry = await createTestEntry(t, event);
  const answer = await accept(t, event, entry, { decision: 'accept-with-conditions', conditions });
  expect(answer.status).toBe(201);
  return { entry, ids: answer.body.conditions.map((one: { id: string }) => one.id) };
}

test('a car that is held because a condition is past due is clear once it is done', async () => {
  const { entry, ids } = await accepted();
  const id = ids[0] ?? '';
  t.clock.set(DUE);
  expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'held' });
  const answer = await done(entry.entryId, id, { note: 'all wheels at 115 N·m' });
  expect(answer.status).toBe(200);
  expect(answer.body).toEqual({
    entryId: entry.entryId,
    carNumber: entry.carNumber,
    clearance: {
      admit: true,
      status: 'clear',
      reason: 'Signed off at the tech line.',
      validUntil: '2026-06-14T22:00:00.000Z',
      conditions: [],
    },
  });
  expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: true, status: 'clear' });
  expect(await t.deps.db.prisma.condition.findUnique({ where: { id } })).toMatchObject({
    doneName: 'Test inspector',
    doneNote: 'all wheels at 115 N·m',
    doneAt: new Date(DUE),
  });
  expect((await historyOf(t, entry.entryId)).at(-1)).toMatchObject({
    action: 'condition.done',
    data: { event: { type: 'condition-done', conditionId: id } },
  });
  // Whoever noted it is at the car with the driver, so nobody else need be told.
  expect(await ordered(t, answer)).toEqual([]);
});

test('each condition is done for itself', async () => {
  const { entry, ids } = await accepted([{ text: 'torque', dueAt: DUE }, { text: 'tape' }]);
  t.clock.set('2026-06-13T09:00:00Z');
  expect((await done(entry.entryId, ids[0] ?? '')).body.clearance).toMatchObject({
    admit: true,
    status: 'clear-with-conditions',
    conditions: [{ id: ids[1], text: 'tape' }],
  });
  t.clock.set(DUE);
  expect((await gate(t, event, entry.carNumber)).admit).toBe(true);
});

test('is done once, also when ten inspectors say so at once', async () => {
  const { entry, ids } = await accepted();
  const answers = await Promise.all(Array.from({ length: 10 }, () => done(entry.entryId, ids[0] ?? '')));
  expect(answers.map((answer) => answer.status).sort()).toEqual([200, ...Array.from({ length: 9 }, () => 409)]);
  expect((await historyOf(t, entry.entryId)).filter((row) => row.action === 'condition.done')).toHaveLength(1);
});

describe('is refused', () => {
  test('to anybody but an inspector, and on a car of one’s own', async () => {
    const { entry, ids } = await accepted();
    const id = ids[0] ?? '';
    for (const role of ['organizer', 'marshal'] as const)
      expect((await done(entry.entryId, id, {}, role)).status).toBe(403);
    expect((await done(entry.entryId, id, {}, entry.entrant)).status).toBe(403);
    const own = await t.mint('inspector', { holder: `entrant  of ${entry.carNumber}` });
    const answer = await done(entry.entryId, id, {}, own);
    expect(answer.body.code).toBe('conflict-of-interest');
    expect((await factsOf(t, entry.entryId)).conditions).toHaveLength(1);
  });

  test('for a condition of another entry, or of none', async () => {
    const [one, other] = [await accepted(), await accepted()];
    expect((await done(one.entry.entryId, other.ids[0] ?? '')).status).toBe(404);
    expect((await done(one.entry.entryId, UNKNOWN)).status).toBe(404);
    expect((await done(UNKNOWN, one.ids[0] ?? '')).status).toBe(404);
  });

  test('for a condition of a sign-off that no longer counts', async () => {
    const { entry, ids } = await accepted();
    await submit(t, entry);
    const answer = await done(entry.entryId, ids[0] ?? '');
    expect(answer.status).toBe(409);
    expect(answer.body.code).toBe('state-moved-on');
  });

  test('on a withdrawn entry', async () => {
    const { entry, ids } = await accepted();
    await t.api('organizer').post(`/v1/entries/${entry.entryId}/withdraw`).expect(200);
    expect((await done(entry.entryId, ids[0] ?? '')).body).toMatchObject({
      code: 'state-moved-on',
      currentState: 'withdrawn',
    });
  });
});
