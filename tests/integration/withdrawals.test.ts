import { randomUUID } from 'node:crypto';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import { accept, claim, createTestEntry, createTestEvent, gate, submit, type TestEvent } from '../support/event.ts';
import { actionsOf, factsOf, historyOf } from '../support/records.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

const withdraw = (entryId: string, as: Parameters<TestApp['api']>[0] = 'organizer', body?: object) => {
  const request = t.api(as).post(`/v1/entries/${entryId}/withdraw`);
  return body === undefined ? request : request.send(body);
};

test('takes an accepted car out for good: off the line, no at the gate, nothing of its history lost', async () => {
  const entry = await createTestEntry(t, event);
  await accept(t, event, entry);
  const before = await actionsOf(t, entry.entryId);
  const answer = await withdraw(entry.entryId, 'organizer', { reason: 'gearbox' });
  expect(answer.status).toBe(200);
  expect(answer.body).toEqual({
    entryId: entry.entryId,
    carNumber: entry.carNumber,
    clearance: {
      admit: false,
      status: 'withdrawn',
      reason: 'The entry was withdrawn.',
      validUntil: null,
      conditions: [],
    },
  });
  t.clock.set('2026-06-13T08:00:00Z');
  expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'withdrawn' });
  expect(await actionsOf(t, entry.entryId)).toEqual([...before, 'entry.withdrawn']);
  expect((await historyOf(t, entry.entryId)).at(-1)?.data).toEqual({ reason: 'gearbox', event: { type: 'withdrawn' } });
  expect((await factsOf(t, entry.entryId)).withdrawn).toBe(true);
});

test('the entrant withdraws the own entry, and only that', async () => {
  const [own, other] = [await createTestEntry(t, event), await createTestEntry(t, event)];
  expect((await withdraw(other.entryId, own.entrant)).status).toBe(404);
  expect((await factsOf(t, other.entryId)).withdrawn).toBe(false);
  expect((await withdraw(own.entryId, own.entrant)).status).toBe(200);
  for (const role of ['chief', 'inspector', 'marshal'] as const)
    expect((await withdraw(other.entryId, role)).status).toBe(403);
  expect((await withdraw(UNKNOWN)).status).toBe(404);
});

test('leaves the line with the claim on it', async () => {
  const entry = await createTestEntry(t, event);
  await submit(t, entry);
  const { body } = await claim(t, event, entry.carNumber);
  await withdraw(entry.entryId);
  expect(await t.deps.db.prisma.ticket.findUnique({ where: { id: body.ticketId } })).toMatchObject({ state: 'void' });
  expect(await t.deps.db.prisma.claim.findUnique({ where: { id: body.claimId } })).toMatchObject({ endReason: 'void' });
  expect((await claim(t, event, entry.carNumber)).body).toMatchObject({
    code: 'state-moved-on',
    currentState: 'withdrawn',
  });
});

test('of a shared car leaves its other entry in the event; the number as a whole is not admitted', async () => {
  const novice = await createTestEntry(t, event);
  const { carNumber } = novice;
  const advanced = await createTestEntry(t, event, { carNumber, runGroupId: event.advanced, vehicle: undefined });
  await accept(t, event, novice);
  await withdraw(advanced.entryId);
  t.clock.set('2026-06-13T08:00:00Z');
  expect(await gate(t, event, carNumber)).toMatchObject({ admit: false, status: 'withdrawn' });
  expect(await gate(t, event, carNumber, `?runGroupId=${event.novice}`)).toMatchObject({
    admit: true,
    status: 'clear',
  });
});

test('happens once, also when ten ask at once', async () => {
  const entry = await createTestEntry(t, event);
  const answers = await Promise.all(Array.from({ length: 10 }, () => withdraw(entry.entryId)));
  expect(answers.map((answer) => answer.status).sort()).toEqual([200, ...Array.from({ length: 9 }, () => 409)]);
  expect((await actionsOf(t, entry.entryId)).filter((action) => action === 'entry.withdrawn')).toHaveLength(1);
});

describe('with an Idempotency-Key', () => {
  const sent = (
    entryId: string,
    key: string,
    body: object = { reason: 'gearbox' },
    as: Parameters<TestApp['api']>[0] = 'organizer',
  ) => withdraw(entryId, as, body).set('idempotency-key', key);
  const records = (key: string) => t.deps.db.prisma.idempotency.count({ where: { key } });

  test('ten times at once is one withdrawal, and all answers are equal', async () => {
    const entry = await createTestEntry(t, event);
    const key = randomUUID();
    const answers = await Promise.all(Array.from({ length: 10 }, () => sent(entry.entryId, key)));
    expect(answers.map(({ status }) => status)).toEqual(Array.from({ length: 10 }, () => 200));
    const fresh = answers.filter(({ headers }) => headers['idempotency-replayed'] === undefined);
    expect(fresh).toHaveLength(1);
    expect(fresh[0]?.body).toMatchObject({ carNumber: entry.carNumber, clearance: { status: 'withdrawn' } });
    for (const { body } of answers) expect(body).toEqual(fresh[0]?.body);
    expect((await actionsOf(t, entry.entryId)).filter((action) => action === 'entry.withdrawn')).toHaveLength(1);
  });

  test('is refused with another body, with another key, and to somebody else with the same', async () => {
    const entry = await createTestEntry(t, event);
    const key = randomUUID();
    expect((await sent(entry.entryId, key)).status).toBe(200);
    expect((await sent(entry.entryId, key, { reason: 'engine' })).body).toMatchObject({
      code: 'idempotency-key-reused',
    });
    const moved = { code: 'state-moved-on', currentState: 'withdrawn' };
    expect((await sent(entry.entryId, randomUUID())).body).toMatchObject(moved);
    expect((await sent(entry.entryId, key, { reason: 'gearbox' }, entry.entrant)).body).toMatchObject(moved);
    expect(await records(key)).toBe(1);
  });

  test('without a body and with an empty one is the same request; a key of blanks is named', async () => {
    const entry = await createTestEntry(t, event);
    const key = randomUUID();
    expect((await withdraw(entry.entryId).set('idempotency-key', key)).status).toBe(200);
    const again = await sent(entry.entryId, key, {});
    expect([again.status, again.headers['idempotency-replayed']]).toEqual([200, 'true']);
    const bad = await sent(entry.entryId, 'a b');
    expect(bad.status).toBe(400);
    expect(bad.body.errors).toMatchObject([{ pointer: '/idempotency-key', code: 'bad-key', in: 'header' }]);
  });

  test('a refusal keeps no record: the same request is judged anew', async () => {
    const key = randomUUID();
    expect((await sent(UNKNOWN, key)).status).toBe(404);
    expect(await records(key)).toBe(0);
  });
});
