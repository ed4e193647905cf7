import { decodeJwt } from 'jose';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { answerOffline, type GateSnapshot } from '../../src/domain/clearance/gate-snapshot.ts';
import { daysChangedJob } from '../../src/features/set-up/times-moved.job.ts';
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
interface OwnRow {
  seq: number;
  action: string;
  actor: { role: string; name: string };
  data: Record<string, unknown>;
}
/** What the event's own history has after the rows about its run groups and tokens, which the test began with. */
const ownRows = async () => {
  const { body } = await t.api('chief').get(`${path()}/history?limit=200`).expect(200);
  return (body.history as OwnRow[]).filter(({ action }) => !/^(run-group.created|token.minted)$/.test(action));
};
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
    expect(rows.map(({ action, actor }) => [action, actor.role])).toEqual([
      ['event.changed', 'organizer'],
      ['event.changed', 'organizer'],
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
    const first = (await ownRows())[0]?.seq ?? 0;
    expect((await ownRows()).map(({ seq }) => seq)).toEqual(Array.from({ length: 20 }, (_, n) => first + n));
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

describe('the venue gets another time zone', () => {
  const venue = () => `/v1/venues/${event.venueId}`;
  const zone = (timeZone: string, more: object = {}) => ({ name: 'Test circuit', timeZone, ...more });
  const look = (timeZone: string) => t.api('organizer').post(`${venue()}/preview`).send(zone(timeZone));
  const put = (body: object) => t.api('organizer').put(venue()).set('if-match', '*').send(body);

  test('only from whoever has seen what it does and says why; the acceptances follow, and each event tells it', async () => {
    const seen = await look('America/Los_Angeles').expect(200);
    expect(seen.body).toMatchObject({ sameZone: false, events: [{ eventId: event.eventId, sameDays: false }] });
    expect(seen.body.events[0]).toMatchObject({ signedOff: 2, follows: 1, keeps: 1, ends: 0, lineAgain: 0 });
    // 14 June ends nine hours later on the west coast of America than in central Europe (UTC-7 and UTC+2).
    expect(seen.body.events[0].cars).toContainEqual(
      expect.objectContaining({ entryId: whole.entryId, validUntil: '2026-06-15T07:00:00.000Z' }),
    );
    const other = (await look('Europe/Lisbon').expect(200)).body.preview;
    for (const preview of [undefined, other]) {
      const refused = await put(zone('America/Los_Angeles', { reason: 'It was wrong', preview }));
      expect(refused.status).toBe(409);
      expect(refused.body).toMatchObject({ code: 'preview-needed', preview: `${venue()}/preview` });
    }
    const silent = await put(zone('America/Los_Angeles', { preview: seen.body.preview }));
    expect(silent.body.errors).toMatchObject([{ pointer: '/reason', code: 'reason-needed' }]);
    expect(await ownRows()).toEqual([]);
    const said = { preview: seen.body.preview, reason: 'It was wrong' };
    const answer = await put(zone('America/Los_Angeles', said)).expect(200);
    expect(answer.body).toEqual({ venueId: event.venueId, ...zone('America/Los_Angeles'), brakingZones: [] });
    await runOrdered(t, answer, daysChangedJob);
    t.clock.set('2026-06-15T06:30:00Z');
    expect(await gate(t, event, whole.carNumber)).toMatchObject({
      admit: true,
      validUntil: '2026-06-15T07:00:00.000Z',
    });
    expect(await ownRows()).toMatchObject([
      {
        action: 'venue.changed',
        actor: { role: 'organizer' },
        data: {
          venueId: event.venueId,
          from: { timeZone: 'Europe/Berlin' },
          to: { timeZone: 'America/Los_Angeles' },
          days: { from: { until: '2026-06-14T22:00:00.000Z' }, to: { until: '2026-06-15T07:00:00.000Z' } },
          reason: 'It was wrong',
        },
      },
    ]);
    await sealed(t);
    expect(await audit()).toMatchObject({ intact: true, faults: [] });
  });

  test('a zone with the same days needs nothing; what rules know of the circuit stands in the history too', async () => {
    expect((await look('Europe/Paris').expect(200)).body.events).toMatchObject([{ sameDays: true, signedOff: 2 }]);
    await put(zone('Europe/Paris', { topSpeedKmh: 224 })).expect(200);
    await put(zone('Europe/Paris', { topSpeedKmh: 224 })).expect(200);
    expect((await ownRows()).map(({ data }) => data)).toEqual([
      {
        venueId: event.venueId,
        from: { timeZone: 'Europe/Berlin' },
        to: { timeZone: 'Europe/Paris', topSpeedKmh: 224 },
      },
    ]);
  });

  test('an event that is over keeps what its days were, and neither asks nor derives', async () => {
    t.clock.set('2026-07-01T08:00:00Z');
    expect((await look('America/Los_Angeles').expect(200)).body.events).toEqual([]);
    const answer = await put(zone('America/Los_Angeles')).expect(200);
    expect(await ownRows()).toMatchObject([{ data: { days: { from: { until: '2026-06-14T22:00:00.000Z' } } } }]);
    await expect(runOrdered(t, answer, daysChangedJob)).rejects.toThrow('ordered no');
  });

  test('an event that moves to the venue at the same moment has one set of days', async () => {
    event = await createTestEvent(t);
    const elsewhere = await createTestEvent(t);
    const move = { venueId: event.venueId };
    const moved = t.api('organizer').patch(`/v1/events/${elsewhere.eventId}`).set('if-match', '*').send(move);
    const answers = await Promise.all([moved, put(zone('America/Los_Angeles'))]);
    expect(answers.map(({ status }) => status)).toEqual([200, 200]);
    const { body } = await t.api('chief').get(`/v1/events/${elsewhere.eventId}/history?limit=200`).expect(200);
    const days = (body.history as OwnRow[]).flatMap(({ data }) => (data['days'] === undefined ? [] : [data['days']]));
    // Moved once, from the one zone to the other, whichever came first.
    expect((days.at(-1) as { to: object }).to).toEqual({
      from: '2026-06-13T07:00:00.000Z',
      until: '2026-06-15T07:00:00.000Z',
    });
  });
});

describe('the history of an event tells', () => {
  const api = () => t.api('organizer');
  const since = async (work: () => Promise<unknown>) => {
    const count = (await ownRows()).length;
    await work();
    return (await ownRows()).slice(count).map(({ action, data }) => ({ action, data }));
  };

  test('run groups, and what the venue brings into their rules', async () => {
    const group = `${path()}/run-groups/${event.novice}`;
    const tell = await since(async () => {
      await api().patch(group).set('if-match', '*').send({ name: 'First-timers', reason: 'Clearer' }).expect(200);
      await api().patch(group).set('if-match', '*').send({ name: 'First-timers' }).expect(200);
      const parameters = { padMinimum: { value: 5, unit: 'mm' } };
      const seen = (await api().post(`${group}/preview`).send({ parameters })).body.preview;
      await api().patch(group).set('if-match', '*').send({ parameters, preview: seen }).expect(200);
      const overlay = `/v1/venues/${event.venueId}/overlays/${event.ruleSetId}`;
      const rules = { parameters: { fluidMaxAge: { value: 6, unit: 'month' } }, effects: {}, rules: [] };
      await api().put(overlay).set('if-match', '"0"').send(rules).expect(200);
      await api().delete(overlay).set('if-match', '*').expect(204);
    });
    const { venueId, ruleSetId } = event;
    const hash = expect.stringMatching(/^[0-9a-f]{64}$/);
    const limits = { parameters: { fluidMaxAge: { value: 6, unit: 'month' } }, hash };
    const runGroupId = event.novice;
    const pads = (value: number) => ({ parameters: { padMinimum: { value, unit: 'mm' } }, resolvedHash: hash });
    expect(tell).toEqual([
      {
        action: 'run-group.changed',
        data: { runGroupId, from: { name: 'Novice' }, to: { name: 'First-timers' }, reason: 'Clearer' },
      },
      { action: 'run-group.changed', data: { runGroupId, from: pads(4), to: pads(5) } },
      { action: 'venue-overlay.changed', data: { venueId, ruleSetId, from: null, to: limits } },
      { action: 'venue-overlay.removed', data: { venueId, ruleSetId, from: limits, to: null } },
    ]);
    const { body } = await t.api('chief').get(`${path()}/history?limit=1`).expect(200);
    expect(body.history).toMatchObject([{ seq: 1, action: 'run-group.created', data: { to: { name: 'Novice' } } }]);
    const next = await t.api('chief').get(`${path()}/history?limit=1&cursor=${body.next}`).expect(200);
    expect(next.body.history).toMatchObject([{ seq: 2, data: { to: { name: 'Advanced' } } }]);
    await t.api('inspector').get(`${path()}/history`).expect(403);
  });

  test('tokens and codes of the staff, without a name', async () => {
    const other = await createTestEvent(t);
    const ids = { tokenId: '', enrolmentId: '', enrolled: '' };
    const tell = await since(async () => {
      const minted = await api()
        .post('/v1/tokens')
        .send({ role: 'marshal', holder: 'Gate 1', eventIds: [event.eventId] });
      ids.tokenId = minted.body.tokenId;
      const bind = (eventIds: string[]) => api().post(`/v1/tokens/${ids.tokenId}/bind`).send({ eventIds }).expect(200);
      await bind([other.eventId]);
      await bind([other.eventId]);
      await bind([event.eventId]);
      await api().delete(`/v1/tokens/${ids.tokenId}`).expect(204);
      await api().delete(`/v1/tokens/${ids.tokenId}`).expect(204);
      const code = { role: 'inspector', holder: 'Una Beck', eventIds: [event.eventId] };
      const made = await api().post('/v1/enrolments').send(code).expect(201);
      ids.enrolmentId = made.body.enrolmentId;
      const redeemed = await t.api(undefined).post('/v1/enrolments/redeem').send({ code: made.body.code }).expect(201);
      ids.enrolled = redeemed.body.tokenId;
    });
    const { tokenId, enrolmentId } = ids;
    expect(tell).toMatchObject([
      { action: 'token.bound', data: { tokenId, role: 'marshal', from: [event.eventId], to: [other.eventId] } },
      { action: 'token.bound', data: { from: [other.eventId], to: [event.eventId] } },
      { action: 'token.revoked', data: { tokenId, role: 'marshal' } },
      { action: 'enrolment.created', data: { enrolmentId, role: 'inspector' } },
      { action: 'enrolment.redeemed', data: { enrolmentId, tokenId: ids.enrolled, role: 'inspector' } },
    ]);
    const { body } = await t.api('chief').get(`${path()}/history?limit=200`).expect(200);
    const rows = body.history as OwnRow[];
    expect(rows).toContainEqual(
      expect.objectContaining({ action: 'token.minted', data: expect.objectContaining({ tokenId, role: 'marshal' }) }),
    );
    expect(JSON.stringify(rows.map(({ data }) => data))).not.toMatch(/Gate 1|Una Beck/);
  });

  test('webhooks of the event, without address and secret', async () => {
    const tell = await since(async () => {
      const hook = { url: 'https://receiver.example/k3y', types: ['hold.placed'], eventId: event.eventId };
      const { body } = await api().post('/v1/webhooks').send(hook).expect(201);
      const webhook = `/v1/webhooks/${body.webhookId}`;
      await api().patch(webhook).set('if-match', '*').send({ enabled: false }).expect(200);
      await api().post(`${webhook}/secret`).send({}).expect(200);
      await api().delete(webhook).expect(204);
    });
    const types = ['hold.placed'];
    expect(tell).toMatchObject([
      { action: 'webhook.created', data: { types } },
      { action: 'webhook.changed', data: { from: { types, enabled: true }, to: { types, enabled: false } } },
      { action: 'webhook.secret-rotated' },
      { action: 'webhook.deleted', data: { types } },
    ]);
    expect(JSON.stringify(tell)).not.toContain('k3y');
  });
});
