import { randomUUID } from 'node:crypto';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { TORQUE_RECHECK_TEXT } from '../../src/domain/log/condition-words.ts';
import { timetableMovedJob } from '../../src/features/set-up/times-moved.job.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import {
  accept,
  claim,
  createTestEntry,
  createTestEvent,
  gate,
  SMALL_RULE_SET,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { runOrdered } from '../support/jobs.ts';
import { actionsOf, factsOf, sql } from '../support/records.ts';

const RULES = {
  ...SMALL_RULE_SET,
  parameters: {
    ...SMALL_RULE_SET.parameters,
    torqueRecheck: { value: true, meaning: 'Again after the first session' },
  },
};
const session = (name: string, day: string, from: string, to: string) => ({
  name,
  startsAt: `2026-06-${day}T${from}:00.000Z`,
  endsAt: `2026-06-${day}T${to}:00.000Z`,
});
const TABLE = [
  session('Sat 1', '13', '07:00', '07:20'),
  session('Sat 2', '13', '08:00', '08:20'),
  session('Sun 1', '14', '07:00', '07:20'),
];

let t: TestApp;
let event: TestEvent;
let entry: TestEntry;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());
beforeEach(async () => {
  event = await createTestEvent(t, RULES);
  entry = await createTestEntry(t, event);
});
afterEach(() => t.clock.set(TEST_NOW));

const path = () => `/v1/events/${event.eventId}/run-groups/${event.novice}`;
const put = (sessions: object[], as: 'organizer' | 'chief' = 'chief', etag = '*') =>
  t.api(as).put(`${path()}/sessions`).set('if-match', etag).send({ sessions });
const dues = async () => {
  const { conditions } = await factsOf(t, entry.entryId);
  return conditions.map(({ text, dueAt }) => [text, dueAt]);
};

describe('the timetable of a run group', () => {
  test('is set as a whole; its first session is that of the group', async () => {
    const { body: before, headers } = await t.api('inspector').get(`${path()}/sessions`).expect(200);
    expect(before).toMatchObject({
      sessions: [],
      firstSessionAt: '2026-06-13T07:00:00.000Z',
      timeZone: 'Europe/Berlin',
    });
    const later = TABLE.map((one) => (one.name === 'Sat 1' ? session('Sat 1', '13', '06:40', '07:00') : one));
    const set = await put(later.toReversed(), 'organizer', headers['etag'] ?? '').expect(200);
    expect(set.body.sessions).toEqual(later);
    expect(set.body.firstSessionAt).toBe('2026-06-13T06:40:00.000Z');
    const group = await t.api('marshal').get(path()).expect(200);
    expect(group.body).toMatchObject({ firstSessionAt: '2026-06-13T06:40:00.000Z', sessions: later });
    expect((await put(TABLE, 'organizer', headers['etag'] ?? '')).status).toBe(412);
    expect((await put([]).expect(200)).body).toMatchObject({
      sessions: [],
      firstSessionAt: '2026-06-13T06:40:00.000Z',
    });
    const history = await t.api('chief').get(`/v1/events/${event.eventId}/history?limit=200`).expect(200);
    expect(history.body.history.filter((row: { action: string }) => row.action === 'run-group.changed')).toHaveLength(
      2,
    );
  });

  test('is refused whole, naming each place as it was sent', async () => {
    const wrong = [session('Sun 9', '15', '09:00', '09:20'), ...TABLE, session('sat 2', '13', '08:10', '08:00')];
    const refused = await put(wrong);
    expect(refused.status).toBe(422);
    expect(refused.body.errors.map((one: { pointer: string; code: string }) => [one.pointer, one.code])).toEqual([
      ['/sessions/0/startsAt', 'outside-event'],
      ['/sessions/0/endsAt', 'outside-event'],
      ['/sessions/4/name', 'name-twice'],
      ['/sessions/4/endsAt', 'ends-first'],
    ]);
    expect((await t.api('chief').get(`${path()}/sessions`)).body.sessions).toEqual([]);
  });

  test('goes with a first session that is changed alone, as older callers do', async () => {
    await put(TABLE).expect(200);
    const change = (firstSessionAt: string) =>
      t.api('organizer').patch(path()).set('if-match', '*').send({ firstSessionAt });
    const moved = await change('2026-06-13T07:30:00Z').expect(200);
    expect(moved.body.sessions[0]).toEqual(session('Sat 1', '13', '07:30', '07:50'));
    const refused = await change('2026-06-13T09:00:00Z');
    expect([refused.status, refused.body.errors[0].pointer]).toEqual([422, '/firstSessionAt']);
  });
});

describe('what is asked between two sessions', () => {
  test('is due when the group goes out again on the same day; the gate holds by it', async () => {
    await put(TABLE).expect(200);
    expect((await accept(t, event, entry)).status).toBe(201);
    expect(await dues()).toEqual([[TORQUE_RECHECK_TEXT, '2026-06-13T08:00:00.000Z']]);
    t.clock.set('2026-06-13T07:59:59.000Z');
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: true, status: 'clear-with-conditions' });
    t.clock.set('2026-06-13T08:00:00.000Z');
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'held' });
    const torque = { kind: 'torque', values: { 'wheel.torque-setting': 110 }, wheelsCooled: true };
    const write = (at: string) =>
      t
        .api(entry.entrant)
        .post(`/v1/entries/${entry.entryId}/log`)
        .set('idempotency-key', randomUUID())
        .send({ ...torque, at });
    // Before the session was over it does not count.
    expect((await write('2026-06-13T07:10:00Z')).body.clearance.admit).toBe(false);
    expect((await write('2026-06-13T07:45:00Z')).body.clearance.admit).toBe(true);
  });

  test('is asked once when the inspector asks for it himself, at the earlier of both times', async () => {
    await put(TABLE).expect(200);
    const given = [
      { text: 'Torque again', kind: 'torque', dueAt: '2026-06-14T07:00:00Z' },
      { text: 'Tape over the lamp', kind: 'tape' },
      { text: 'Bring the paper', kind: 'paper', dueAt: null },
      { text: 'In own words' },
    ];
    await accept(t, event, entry, { decision: 'accept-with-conditions', conditions: given });
    expect(await dues()).toEqual([
      ['Torque again', '2026-06-13T08:00:00.000Z'],
      ['Tape over the lamp', '2026-06-13T07:00:00.000Z'],
      ['Bring the paper', undefined],
      ['In own words', undefined],
    ]);
    const other = await createTestEntry(t, event);
    const early = [{ text: 'Torque again', kind: 'torque', dueAt: '2026-06-13T07:50:00Z' }];
    await accept(t, event, other, { decision: 'accept-with-conditions', conditions: early });
    const { conditions } = await factsOf(t, other.entryId);
    expect(conditions).toMatchObject([{ dueAt: '2026-06-13T07:50:00.000Z', recheck: { of: 'torque' } }]);
  });

  test('moves with its session when the day runs late, in what the gate says and in what is stored', async () => {
    await put(TABLE).expect(200);
    await accept(t, event, entry);
    const late = TABLE.map((one) => (one.name === 'Sat 2' ? session('Sat 2', '13', '09:00', '09:20') : one));
    const moved = await put(late).expect(200);
    await runOrdered(t, moved, timetableMovedJob);
    expect(await dues()).toEqual([[TORQUE_RECHECK_TEXT, '2026-06-13T09:00:00.000Z']]);
    t.clock.set('2026-06-13T08:30:00.000Z');
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: true });
    const rows = await sql<{ due_at: Date }>(t, 'SELECT due_at FROM conditions WHERE entry_id = $1', [entry.entryId]);
    expect(rows.map(({ due_at }) => due_at.toISOString())).toEqual(['2026-06-13T09:00:00.000Z']);
    expect(await actionsOf(t, entry.entryId)).toEqual(expect.arrayContaining(['condition.moved']));
    const before = await actionsOf(t, entry.entryId);
    await runOrdered(t, moved, timetableMovedJob);
    expect(await actionsOf(t, entry.entryId)).toEqual(before);
  });

  test('gets its time when the timetable comes after the acceptance', async () => {
    await accept(t, event, entry);
    expect(await dues()).toEqual([[TORQUE_RECHECK_TEXT, '2026-06-14T07:00:00.000Z']]);
    await runOrdered(t, await put(TABLE).expect(200), timetableMovedJob);
    expect(await dues()).toEqual([[TORQUE_RECHECK_TEXT, '2026-06-13T08:00:00.000Z']]);
  });

  test('is told to the inspector at the car', async () => {
    await put(TABLE).expect(200);
    await submit(t, entry);
    expect((await claim(t, event, entry.carNumber)).body.sessions).toEqual(TABLE);
  });
});
