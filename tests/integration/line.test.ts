import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, TEST_NOW, type TestApp, type TestToken } from '../support/app.ts';
import {
  claim,
  createTestEntry,
  createTestEvent,
  gate,
  signOff,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { actionsOf, historyOf, ordered, sql } from '../support/records.ts';
import { SIZE } from '../support/size.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';

let t: TestApp;

beforeAll(async () => {
  t = await startTestApp({ own: true });
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

type Ticket = {
  ticketId: string;
  place: number;
  carNumber: string;
  state: string;
  claimedBy?: string;
  expectedAt: string;
};
const line = async (event: TestEvent): Promise<Ticket[]> =>
  (await t.api('marshal').get(`/v1/events/${event.eventId}/line`).expect(200)).body.tickets;
const numbers = async (event: TestEvent) => (await line(event)).map((ticket) => ticket.carNumber);
const next = (event: TestEvent, as: 'inspector' | 'chief' | TestToken = 'inspector', body: object = {}) =>
  t.api(as).post(`/v1/events/${event.eventId}/line/claims`).send(body);
const lease = (claimId: string, as: 'inspector' | 'chief' | TestToken = 'inspector') =>
  t.api(as).post(`/v1/claims/${claimId}/renew`);
const putBack = (claimId: string, as: 'inspector' | 'chief' | TestToken = 'inspector') =>
  t.api(as).delete(`/v1/claims/${claimId}`);
const runOut = (claimId: string) =>
  sql(t, `UPDATE claims SET expires_at = now() - interval '1 second' WHERE id = $1`, [claimId]);
const claimRow = (claimId: string) => t.deps.db.prisma.claim.findUniqueOrThrow({ where: { id: claimId } });
const ticketState = async (ticketId: string) =>
  (await t.deps.db.prisma.ticket.findUniqueOrThrow({ where: { id: ticketId } })).state;

/** Enters and submits cars one minute after the other, in the given order. */
async function queue(
  event: TestEvent,
  cars: readonly (readonly [string, 'novice' | 'advanced'])[],
): Promise<TestEntry[]> {
  const entries: TestEntry[] = [];
  for (const [carNumber, group] of cars) {
    const entry = await createTestEntry(t, event, { carNumber, runGroupId: event[group] });
    t.clock.advance(60_000);
    expect((await submit(t, entry)).status).toBe(201);
    entries.push(entry);
  }
  return entries;
}

describe('the order of turns', () => {
  test('is the first session of the run group, then the submission', async () => {
    const event = await createTestEvent(t);
    await queue(event, [
      ['1', 'advanced'],
      ['2', 'novice'],
      ['3', 'advanced'],
      ['4', 'novice'],
    ]);
    expect(await numbers(event)).toEqual(['2', '4', '1', '3']);
    expect((await line(event)).map((ticket) => ticket.place)).toEqual([1, 2, 3, 4]);
    const taken: string[] = [];
    for (let i = 0; i < 4; i += 1) taken.push((await next(event)).body.carNumber);
    expect(taken).toEqual(['2', '4', '1', '3']);
    const empty = await next(event);
    expect(empty.status).toBe(204);
    expect(empty.text).toBe('');
  });

  test('a resubmission goes to the back of its group', async () => {
    const event = await createTestEvent(t);
    const [first] = await queue(event, [
      ['1', 'novice'],
      ['2', 'novice'],
    ]);
    t.clock.advance(60_000);
    await submit(t, first as TestEntry);
    expect(await numbers(event)).toEqual(['2', '1']);
  });

  test('a claim shows with its holder and end, and the estimates grow along the line', async () => {
    const event = await createTestEvent(t);
    await queue(event, [
      ['1', 'novice'],
      ['2', 'novice'],
      ['3', 'novice'],
    ]);
    const claimed = await claim(t, event, '2');
    const tickets = await line(event);
    expect(tickets[0]).toMatchObject({ carNumber: '1', state: 'waiting' });
    expect(tickets[1]).toMatchObject({
      state: 'claimed',
      claimedBy: 'Test inspector',
      claimId: claimed.body.claimId,
      claimExpiresAt: claimed.body.expiresAt,
    });
    expect(tickets[0]).not.toHaveProperty('claimedBy');
    const expected = tickets.map((ticket) => ticket.expectedAt);
    expect(expected).toEqual([...expected].sort());
  });
});

describe('claiming', () => {
  test('gives a lease of 15 minutes with all that is needed at the car, a history row and an end job', async () => {
    const event = await createTestEvent(t);
    const [entry] = await queue(event, [['1', 'novice']]);
    const answer = await next(event);
    expect(answer.status).toBe(201);
    expect(answer.headers['location']).toBe(`/v1/claims/${answer.body.claimId}`);
    expect(answer.body).toMatchObject({
      carNumber: '1',
      runGroup: 'Novice',
      revision: 1,
      verdict: 'clean',
      leaseMinutes: 15,
    });
    expect(answer.body.vehicle).toContain('Club coupé');
    const points: { item: string; declared?: object; why: string }[] = answer.body.pointsToCheck;
    expect(points.find((point) => point.item === 'brake.pedal')).toMatchObject({ declared: { value: 'firm' } });
    expect(points.some((point) => point.item === 'brake-fluid.measured-boiling-point')).toBe(true);
    const row = await claimRow(answer.body.claimId);
    expect(row).toMatchObject({ inspectorName: 'Test inspector', endedAt: null, leaseSeconds: 900 });
    expect(row.expiresAt.getTime() - row.claimedAt.getTime()).toBe(900_000);
    expect(await ticketState(row.ticketId)).toBe('claimed');
    const { entryId } = entry as TestEntry;
    const last = (await historyOf(t, entryId)).at(-1);
    expect(last).toMatchObject({
      action: 'ticket.claimed',
      actorName: 'Test inspector',
      data: { claimId: row.id, ticketId: row.ticketId },
    });
    expect(await ordered(t, answer)).toEqual([
      { name: 'claim.expire', payload: { claimId: row.id }, runAt: row.expiresAt.toISOString() },
    ]);
    const again = await t.api('inspector').get(answer.headers['location'] ?? '');
    expect(again.body).toEqual(answer.body);
  });

  test('an `inspect` finding leads the points to check, with its rule and the reason', async () => {
    const event = await createTestEvent(t);
    const entry = await createTestEntry(t, event);
    const { GOOD_ANSWERS } = await import('../support/event.ts');
    await submit(t, entry, { ...GOOD_ANSWERS, 'radiator.debris': 'some' });
    const { body } = await claim(t, event, entry.carNumber);
    expect(body.verdict).toBe('to-inspect');
    expect(body.pointsToCheck[0]).toMatchObject({
      item: 'radiator.debris',
      ruleId: 'radiator-clear',
      why: 'The core is not clear.',
      declared: { value: 'some' },
    });
  });

  test('without a body takes the next car; a lease may be shorter', async () => {
    const event = await createTestEvent(t);
    await queue(event, [['1', 'novice']]);
    const answer = await t.api('inspector').post(`/v1/events/${event.eventId}/line/claims`);
    expect(answer.status).toBe(201);
    await putBack(answer.body.claimId).expect(204);
    expect((await next(event, 'inspector', { leaseMinutes: 2 })).body.leaseMinutes).toBe(2);
    expect((await next(event, 'inspector', { leaseMinutes: 61 })).status).toBe(400);
  });

  test('by number takes exactly that number, and says why where it cannot', async () => {
    const event = await createTestEvent(t);
    const [one] = await queue(event, [
      ['1', 'novice'],
      ['01', 'novice'],
    ]);
    await createTestEntry(t, event, { carNumber: '2' });
    const mine = await claim(t, event, '01');
    expect(mine.body).toMatchObject({ carNumber: '01' });
    const taken = await claim(t, event, '01', 'chief');
    expect(taken.status).toBe(409);
    expect(taken.body).toMatchObject({
      code: 'state-moved-on',
      currentState: 'claimed',
      claimedBy: 'Test inspector',
      expiresAt: mine.body.expiresAt,
    });
    const undeclared = await claim(t, event, '2');
    expect(undeclared.status).toBe(409);
    expect(undeclared.body).toMatchObject({ currentState: 'no-declaration' });
    expect((await claim(t, event, '001')).status).toBe(404);
    expect((await next({ ...event, eventId: UNKNOWN })).status).toBe(404);
    expect((await actionsOf(t, (one as TestEntry).entryId)).filter((action) => action === 'ticket.claimed')).toEqual(
      [],
    );
  });

  test('of a shared car takes the entry whose turn is first, or the one of the named group', async () => {
    const event = await createTestEvent(t);
    const novice = await createTestEntry(t, event, { carNumber: '5' });
    const advanced = await createTestEntry(t, event, {
      carNumber: '5',
      runGroupId: event.advanced,
      vehicle: undefined,
    });
    await submit(t, advanced);
    await submit(t, novice);
    const first = await claim(t, event, '5');
    expect(first.body.entryId).toBe(novice.entryId);
    const second = await next(event, 'chief', { carNumber: '5', runGroupId: event.advanced });
    expect(second.body.entryId).toBe(advanced.entryId);
  });
});

describe('a lease', () => {
  test('starts anew when it is renewed, with an end job of its own', async () => {
    const event = await createTestEvent(t);
    const [entry] = await queue(event, [['1', 'novice']]);
    const { claimId } = (await next(event)).body;
    await sql(t, `UPDATE claims SET expires_at = now() + interval '10 seconds' WHERE id = $1`, [claimId]);
    const renewed = await lease(claimId);
    expect(renewed.status).toBe(200);
    const row = await claimRow(claimId);
    expect(renewed.body).toEqual({ claimId, leaseMinutes: 15, expiresAt: row.expiresAt.toISOString() });
    expect(row.expiresAt.getTime() - row.claimedAt.getTime()).toBeGreaterThanOrEqual(900_000);
    expect((await actionsOf(t, (entry as TestEntry).entryId)).at(-1)).toBe('claim.renewed');
    expect(await ordered(t, renewed)).toEqual([
      { name: 'claim.expire', payload: { claimId }, runAt: row.expiresAt.toISOString() },
    ]);
  });

  test('is the inspector’s own: another’s cannot be renewed, put back, read or signed off', async () => {
    const event = await createTestEvent(t);
    await queue(event, [['1', 'novice']]);
    const { claimId } = (await next(event)).body;
    expect((await lease(claimId, 'chief')).status).toBe(404);
    const other = await t.mint('inspector', { holder: 'Another inspector' });
    expect((await putBack(claimId, other)).status).toBe(404);
    expect((await t.api('chief').get(`/v1/claims/${claimId}`)).status).toBe(404);
    expect((await signOff(t, claimId, { decision: 'accept', stickerNumber: '1' }, 'chief')).status).toBe(404);
    expect((await lease(UNKNOWN)).status).toBe(404);
    expect((await claimRow(claimId)).endedAt).toBeNull();
  });

  test('put back leaves the car in its place; putting back twice is fine, renewing after it is not', async () => {
    const event = await createTestEvent(t);
    const [entry] = await queue(event, [
      ['1', 'novice'],
      ['2', 'novice'],
    ]);
    const { claimId, ticketId } = (await next(event)).body;
    expect((await putBack(claimId)).status).toBe(204);
    expect((await putBack(claimId)).status).toBe(204);
    expect(await ticketState(ticketId)).toBe('waiting');
    expect(await claimRow(claimId)).toMatchObject({ endReason: 'put-back' });
    expect(await actionsOf(t, (entry as TestEntry).entryId)).toEqual([
      'entry.created',
      'inspection.submitted',
      'ticket.claimed',
      'ticket.put-back',
    ]);
    const gone = await lease(claimId);
    expect(gone.status).toBe(409);
    expect(gone.body.currentState).toBe('put-back');
    expect((await t.api('inspector').get(`/v1/claims/${claimId}`)).status).toBe(409);
    expect((await next(event, 'chief')).body.carNumber).toBe('1');
  });

  test('that ran out frees the car at once, by the clock of the database, with no worker running', async () => {
    const event = await createTestEvent(t);
    const [entry] = await queue(event, [['1', 'novice']]);
    const first = await next(event);
    expect((await next(event, 'chief')).status).toBe(204);
    await runOut(first.body.claimId);
    expect((await line(event))[0]).toMatchObject({ state: 'waiting' });
    const second = await next(event, 'chief');
    expect(second.body).toMatchObject({ carNumber: '1', ticketId: first.body.ticketId });
    expect(await claimRow(first.body.claimId)).toMatchObject({ endReason: 'expired' });
    const last = (await historyOf(t, (entry as TestEntry).entryId)).at(-1);
    expect(last?.data).toMatchObject({ claimId: second.body.claimId, tookOverFrom: first.body.claimId });
    // By number it is just as free.
    await runOut(second.body.claimId);
    expect((await claim(t, event, '1')).status).toBe(201);
  });

  test('that ran out can be renewed while nobody has taken the car', async () => {
    const event = await createTestEvent(t);
    await queue(event, [['1', 'novice']]);
    const { claimId } = (await next(event)).body;
    await runOut(claimId);
    expect((await lease(claimId)).status).toBe(200);
    expect((await signOff(t, claimId, { decision: 'accept', stickerNumber: '1' })).status).toBe(201);
  });

  test('that ran out, or that another took over, does not sign off, and the other is named', async () => {
    const event = await createTestEvent(t);
    const [entry] = await queue(event, [['1', 'novice']]);
    const { claimId } = (await next(event)).body;
    await runOut(claimId);
    const late = await signOff(t, claimId, { decision: 'accept', stickerNumber: '1' });
    expect(late.status).toBe(409);
    expect(late.body).toMatchObject({ code: 'state-moved-on', currentState: 'expired' });
    expect(late.body).not.toHaveProperty('claimedBy');
    await next(event, 'chief');
    const later = await signOff(t, claimId, { decision: 'accept', stickerNumber: '1' });
    expect(later.status).toBe(409);
    expect(later.body).toMatchObject({ currentState: 'expired', claimedBy: 'Test chief' });
    expect(await t.deps.db.prisma.signOff.count({ where: { entryId: (entry as TestEntry).entryId } })).toBe(0);
    expect(await gate(t, event, '1')).toMatchObject({ status: 'in-line' });
  });
});

describe('cars of one’s own', () => {
  test('are passed over as the next, and refused by number', async () => {
    const event = await createTestEvent(t);
    const inspector = await t.mint('inspector', { holder: 'Liv  SAND' });
    const own = await createTestEntry(t, event, { carNumber: '1', people: [{ name: 'liv sand', role: 'crew' }] });
    await submit(t, own);
    expect((await next(event, inspector)).status).toBe(204);
    await queue(event, [['2', 'novice']]);
    expect((await next(event, inspector)).body.carNumber).toBe('2');
    const refused = await claim(t, event, '1', inspector);
    expect(refused.status).toBe(403);
    expect(refused.body.code).toBe('conflict-of-interest');
    expect((await next(event, 'chief')).body.carNumber).toBe('1');
  });

  test.each([
    ['the look of the name', { holder: 'Ivan Petrov' }, { name: '\u0406v\u0430n Petrov' }],
    ['the id', { holder: 'L. Sand', personId: 'ARC-2107' }, { name: 'Liv Sand', personId: 'ARC-2107' }],
  ])('are known by %s', async (_, held, named) => {
    const event = await createTestEvent(t);
    const inspector = await t.mint('inspector', held);
    for (const carNumber of ['1', '2']) {
      await submit(t, await createTestEntry(t, event, { carNumber, people: [{ ...named, role: 'driver' }] }));
    }
    expect((await next(event, inspector)).status).toBe(204);
    await queue(event, [['3', 'novice']]);
    expect((await next(event, inspector)).body.carNumber).toBe('3');
    expect((await claim(t, event, '1', inspector)).body.code).toBe('conflict-of-interest');
    expect((await next(event, 'chief')).body.carNumber).toBe('1');
  });

  test('are also those for which one holds an entrant token', async () => {
    const event = await createTestEvent(t);
    const [entry] = await queue(event, [['1', 'novice']]);
    await t.mint('entrant', { holder: 'Nils-Ole Rask', entryId: (entry as TestEntry).entryId });
    const inspector = await t.mint('inspector', { holder: 'nils ole rask' });
    expect((await next(event, inspector)).status).toBe(204);
    expect((await claim(t, event, '1', inspector)).status).toBe(403);
  });
});

/** Puts cars on the line past the API: copies of one car that went through it. */
async function copies(event: TestEvent, count: number): Promise<void> {
  const [model] = await queue(event, [['M', 'novice']]);
  const { entryId } = model as TestEntry;
  const made = `SELECT n, gen_random_uuid() AS e, gen_random_uuid() AS i FROM generate_series(1, ${count - 1}) n`;
  await sql(t, `CREATE TABLE copied AS ${made}`);
  const of = async (table: string, columns: string, values: string) =>
    sql(
      t,
      `INSERT INTO ${table} (${columns}) SELECT ${values} FROM copied c, ${table} m WHERE m.${table === 'entries' ? 'id' : 'entry_id'} = '${entryId}'`,
    );
  await of(
    'entries',
    'id, event_id, run_group_id, vehicle_id, car_number, entrant, people, person_keys, created_by',
    "c.e, m.event_id, m.run_group_id, m.vehicle_id, 'C' || c.n, m.entrant, m.people, m.person_keys, m.created_by",
  );
  await of(
    'clearances',
    'entry_id, event_id, car_number, car_id, facts',
    "c.e, m.event_id, 'C' || c.n, m.car_id, m.facts",
  );
  await of(
    'inspections',
    'id, entry_id, revision, answers, vehicle, context, rule_set_id, rule_set_version, parameters, verdict, findings, submitted_by, submitted_name',
    'c.i, c.e, 1, m.answers, m.vehicle, m.context, m.rule_set_id, m.rule_set_version, m.parameters, m.verdict, m.findings, m.submitted_by, m.submitted_name',
  );
  await of(
    'tickets',
    'id, event_id, entry_id, inspection_id, queued_at',
    "gen_random_uuid(), m.event_id, c.e, c.i, m.queued_at + c.n * interval '1 second'",
  );
}

const { inspectors: INSPECTORS, cars: CARS } = SIZE.claims;

test('what the rules ask of a claimed car is told in sentences, in the language of who asks, to who holds the claim', async () => {
  const event = await createTestEvent(t);
  await queue(event, [['21', 'novice']]);
  const { body } = await next(event).expect(201);
  const read = (language: string, as: 'inspector' | 'chief' = 'inspector') =>
    t.api(as).get(`/v1/claims/${body.claimId}/limits`).set('accept-language', language);
  const english = await read('en').expect(200);
  const german = await read('de').expect(200);
  expect(english.headers['content-language']).toBe('en');
  expect(german.headers['content-language']).toBe('de');
  const places = (limits: { ruleId: string; position?: string }[]) =>
    limits.map(({ ruleId, position }) => `${ruleId}@${position}`);
  expect(english.body.limits.length).toBeGreaterThan(0);
  expect(places(german.body.limits)).toEqual(places(english.body.limits));
  for (const { says, items } of english.body.limits) {
    expect(says.text).toMatch(/[.!]$/);
    expect(items.length).toBeGreaterThan(0);
  }
  await read('en', 'chief').expect(404);
});

test(`${INSPECTORS} inspectors at once and ${CARS} tickets: each ticket gets exactly one claim, and none is lost`, {
  timeout: 240_000,
}, async () => {
  const event = await createTestEvent(t);
  await copies(event, CARS);
  const inspectors = await Promise.all(
    Array.from({ length: INSPECTORS }, (_, i) => t.mint('inspector', { holder: `Inspector ${i}` })),
  );
  const taken: string[] = [];
  const refusals: unknown[] = [];
  const work = async (inspector: TestToken) => {
    for (;;) {
      const answer = await next(event, inspector);
      if (answer.status === 204) return;
      if (answer.status === 201) taken.push(answer.body.ticketId);
      else refusals.push(answer.body);
    }
  };
  await Promise.all(inspectors.map(work));
  expect(refusals).toEqual([]);
  expect(taken).toHaveLength(CARS);
  expect(new Set(taken).size).toBe(CARS);
  const [counted] = await sql<{ open: number; claims: number }>(
    t,
    `SELECT count(*) FILTER (WHERE t.state = 'claimed')::int AS open, (SELECT count(*) FROM claims k JOIN tickets x ON x.id = k.ticket_id WHERE x.event_id = $1)::int AS claims
     FROM tickets t WHERE t.event_id = $1`,
    [event.eventId],
  );
  expect(counted).toEqual({ open: CARS, claims: CARS });
});
