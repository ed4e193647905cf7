import { decodeJwt } from 'jose';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { answerOffline, type GateSnapshot } from '../../src/domain/gate-snapshot.ts';
import { daysChangedJob } from '../../src/features/events/days-changed.job.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { asText } from '../support/as-text.ts';
import { accept, createTestEntry, createTestEvent, gate, type TestEntry, type TestEvent } from '../support/event.ts';
import { runOrdered } from '../support/jobs.ts';
import { sql, tamper } from '../support/records.ts';
import { sealed } from '../support/sealed.ts';

let t: TestApp;
let event: TestEvent;
let whole: TestEntry;
let dayOne: TestEntry;

beforeAll(async () => {
  t = await startTestApp({ own: true });
});
afterAll(() => t.close());
// The event is on 13 and 14 June; one car is accepted for all of it, one until the evening of its first day.
beforeEach(async () => {
  t.clock.set('2026-06-10T08:00:00.000Z');
  event = await createTestEvent(t);
  whole = await createTestEntry(t, event);
  dayOne = await createTestEntry(t, event);
  expect((await accept(t, event, whole)).status).toBe(201);
  expect((await accept(t, event, dayOne, { validUntil: '2026-06-13T18:00:00Z' })).status).toBe(201);
});

const path = () => `/v1/events/${event.eventId}`;
const preview = (change: object) => t.api('organizer').post(`${path()}/preview`).send(change);
const patch = (change: object) => t.api('organizer').patch(path()).set('if-match', '*').send(change);
const ownRows = () =>
  sql<{ seq: number; action: string; actor_role: string; data: Record<string, unknown> }>(
    t,
    'SELECT seq, action, actor_role, data FROM history WHERE event_id = $1 AND entry_id IS NULL AND car_id IS NULL ORDER BY seq',
    [event.eventId],
  );
const audit = async () => (await t.api('chief').get(`${path()}/audit`).expect(200)).body;
const change = async (days: object, reason = 'The circuit is flooded') => {
  const seen = await preview(days).expect(200);
  return patch({ ...days, reason, preview: seen.body.preview }).expect(200);
};
const listed = async (carNumber: string) => {
  const list = await t.api('marshal').get(`${path()}/gate`).expect(200);
  return (list.body.entries as { carNumber: string; status: string }[]).find((one) => one.carNumber === carNumber)
    ?.status;
};
/** What a device answers from the signed list, when it is at the gate. */
const offline = async (carNumber: string) => {
  await sealed(t);
  const { body } = await t.api('marshal').get(`${path()}/gate/snapshot`).buffer(true).parse(asText).expect(200);
  const list = decodeJwt(body as string) as unknown as GateSnapshot;
  return answerOffline(list, carNumber, t.clock.now());
};

const WEEK_LATER = { startsOn: '2026-06-20', endsOn: '2026-06-21' };

describe('an event moved a week', () => {
  test('clears nobody by an acceptance from before, and sends the cars to the line', async () => {
    const answer = await change(WEEK_LATER);
    t.clock.set('2026-06-20T09:00:00Z');
    expect(await gate(t, event, whole.carNumber)).toMatchObject({ admit: false, status: 'expired' });
    expect(await listed(whole.carNumber)).toBe('expired');
    expect(await offline(whole.carNumber)).toMatchObject({ admit: false, status: 'expired' });
    await runOrdered(t, answer, daysChangedJob);
    for (const { carNumber } of [whole, dayOne]) {
      const after = await gate(t, event, carNumber);
      expect(after).toMatchObject({ admit: false, status: 'in-line' });
      expect(after.reason).toContain('the event moved to other days');
      expect(await listed(carNumber)).toBe('in-line');
      expect(await offline(carNumber)).toMatchObject({ admit: false, status: 'in-line' });
    }
    const claimed = await t.api('inspector').post(`${path()}/line/claims`).send({ carNumber: whole.carNumber });
    expect(claimed.status).toBe(201);
    const told = await sql(
      t,
      `SELECT 1 FROM outbox WHERE name = 'entrant.tell' AND payload ->> 'kind' = 'entry.sent-back' AND payload ->> 'entryId' = ANY ($1)`,
      [[whole.entryId, dayOne.entryId]],
    );
    expect(told).toHaveLength(2);
  });

  test('in steps of less than a week counts from the days that the acceptance was given for', async () => {
    await runOrdered(t, await change({ startsOn: '2026-06-19', endsOn: '2026-06-20' }), daysChangedJob);
    t.clock.set('2026-06-19T09:00:00Z');
    expect(await gate(t, event, whole.carNumber)).toMatchObject({ admit: true });
    await runOrdered(t, await change({ startsOn: '2026-06-21', endsOn: '2026-06-21' }), daysChangedJob);
    t.clock.set('2026-06-21T09:00:00Z');
    expect(await gate(t, event, whole.carNumber)).toMatchObject({ admit: false, status: 'in-line' });
  });
});

test('an event that gets two more days: who was accepted for all of it runs on once that is derived, not before', async () => {
  const answer = await change({ endsOn: '2026-06-16' });
  t.clock.set('2026-06-16T09:00:00Z');
  expect(await gate(t, event, whole.carNumber)).toMatchObject({ admit: false, status: 'expired' });
  await runOrdered(t, answer, daysChangedJob);
  await runOrdered(t, answer, daysChangedJob);
  expect(await gate(t, event, whole.carNumber)).toMatchObject({ admit: true, validUntil: '2026-06-16T22:00:00.000Z' });
  // An end that the inspector set stays.
  expect(await gate(t, event, dayOne.carNumber)).toMatchObject({ admit: false, status: 'expired' });
  const rows = await sql<{ action: string }>(
    t,
    `SELECT action FROM history WHERE entry_id = $1 AND action = 'entry.validity-changed'`,
    [whole.entryId],
  );
  expect(rows).toHaveLength(1);
  await sealed(t);
  expect(await audit()).toMatchObject({ intact: true, faults: [] });
});

test('a shorter event does not make a one-day acceptance one for the whole event', async () => {
  await runOrdered(t, await change({ endsOn: '2026-06-13' }), daysChangedJob);
  await runOrdered(t, await change({ endsOn: '2026-06-14' }), daysChangedJob);
  t.clock.set('2026-06-14T09:00:00Z');
  expect(await gate(t, event, whole.carNumber)).toMatchObject({ admit: true });
  expect(await gate(t, event, dayOne.carNumber)).toMatchObject({ admit: false });
});

describe('the history of the event itself', () => {
  test('says who changed what, from and to, and why; the audit holds it', async () => {
    await patch({ name: 'Renamed' }).expect(200);
    await change({ endsOn: '2026-06-15' }, 'One more day');
    const rows = await ownRows();
    expect(rows.map(({ seq, action, actor_role: role }) => [seq, action, role])).toEqual([
      [1, 'event.changed', 'organizer'],
      [2, 'event.changed', 'organizer'],
    ]);
    expect(rows[0]?.data).toMatchObject({ to: { name: 'Renamed' } });
    expect(rows[1]?.data).toEqual({
      from: { endsOn: '2026-06-14' },
      to: { endsOn: '2026-06-15' },
      days: {
        from: { from: '2026-06-12T22:00:00.000Z', until: '2026-06-14T22:00:00.000Z' },
        to: { from: '2026-06-12T22:00:00.000Z', until: '2026-06-15T22:00:00.000Z' },
      },
      reason: 'One more day',
    });
    await sealed(t);
    expect(await audit()).toMatchObject({ intact: true, faults: [] });
  });

  test('a last row that is gone, or a changed head, shows', async () => {
    await patch({ name: 'Renamed' }).expect(200);
    await sealed(t);
    await tamper(t, 'UPDATE events SET history_seq = 0, history_hash = $2 WHERE id = $1', [event.eventId, '']);
    const { faults } = await audit();
    expect(faults).toContainEqual(expect.objectContaining({ kind: 'event-chain-broken' }));
  });

  test('twenty changes at once are one chain', async () => {
    const answers = await Promise.all(Array.from({ length: 20 }, (_, n) => patch({ name: `Name ${n}` })));
    expect(answers.map(({ status }) => status)).toEqual(Array.from({ length: 20 }, () => 200));
    expect((await ownRows()).map(({ seq }) => seq)).toEqual(Array.from({ length: 20 }, (_, n) => n + 1));
    await sealed(t);
    expect(await audit()).toMatchObject({ intact: true });
  });
});

describe('other days, once cars are signed off', () => {
  test('are shown before', async () => {
    const longer = await preview({ endsOn: '2026-06-16' }).expect(200);
    expect(longer.body).toMatchObject({ sameDays: false, signedOff: 2, follows: 1, keeps: 1, ends: 0, lineAgain: 0 });
    const week = await preview(WEEK_LATER).expect(200);
    expect(week.body).toMatchObject({ signedOff: 2, follows: 0, lineAgain: 2 });
    const nextDays = await preview({ startsOn: '2026-06-14', endsOn: '2026-06-15' }).expect(200);
    expect(nextDays.body).toMatchObject({ follows: 1, ends: 1 });
    expect(nextDays.body.cars).toContainEqual({
      entryId: whole.entryId,
      carNumber: whole.carNumber,
      outcome: 'follows',
      before: '2026-06-14T22:00:00.000Z',
      validUntil: '2026-06-15T22:00:00.000Z',
    });
    expect((await preview({ name: 'Other' }).expect(200)).body).toMatchObject({ sameDays: true, follows: 1, keeps: 1 });
    expect(await ownRows()).toEqual([]);
  });

  test('are refused without the preview of exactly this change, and without a reason', async () => {
    const other = await preview({ endsOn: '2026-06-16' });
    for (const tag of [{}, { preview: other.body.preview }, { preview: 'x' }]) {
      const answer = await patch({ ...WEEK_LATER, ...tag, reason: 'Flooded' });
      expect(answer.status).toBe(409);
      expect(answer.body).toMatchObject({ code: 'preview-needed', preview: `${path()}/preview` });
    }
    const seen = await preview(WEEK_LATER);
    const silent = await patch({ ...WEEK_LATER, preview: seen.body.preview });
    expect(silent.status).toBe(422);
    expect(silent.body.errors).toMatchObject([{ pointer: '/reason', code: 'reason-needed' }]);
    expect(await ownRows()).toEqual([]);
    expect((await t.api('organizer').get(path())).body.startsOn).toBe('2026-06-13');
  });

  test('need neither while nobody is signed off', async () => {
    event = await createTestEvent(t);
    await createTestEntry(t, event);
    await patch(WEEK_LATER).expect(200);
    expect(await ownRows()).toHaveLength(1);
  });
});
