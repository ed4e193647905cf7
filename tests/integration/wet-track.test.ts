import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { answerOffline } from '../../src/domain/clearance/gate-snapshot.ts';
import { verifySnapshot } from '../../src/web/gate/kept/snapshot.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import { asText } from '../support/as-text.ts';
import {
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
import { openReader } from '../support/event-source.ts';
import { factsOf, sql } from '../support/records.ts';
import { sealed } from '../support/sealed.ts';
import { waitFor } from '../support/wait.ts';
import { createHook, runDueJobs, startReceiver } from '../support/webhooks.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';
const ON_THE_DAY = '2026-06-13T08:00:00.000Z';
const ZONES = ['FL', 'FR', 'RL', 'RR'].flatMap((wheel) => ['inner', 'middle', 'outer'].map((at) => `${wheel}.${at}`));
const withTread = (depth: number) => ({
  ...GOOD_ANSWERS,
  'tyre.tread': Object.fromEntries(ZONES.map((zone) => [zone, depth])),
});
const SLICKS = 'Wet track: slicks on the car.';
const NOT_KNOWN = 'Wet track: tread not known: have it measured.';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp({ config: { webhookAllow: ['127.0.0.1'] } });
});
afterAll(() => t.close());
beforeEach(async () => {
  event = await createTestEvent(t);
});
afterEach(() => t.clock.set(TEST_NOW));

const track = (of = event, group = of.novice) => `/v1/events/${of.eventId}/run-groups/${group}/track`;
const say = (wet: boolean, as: 'chief' | 'organizer' = 'chief', more: object = {}) =>
  t
    .api(as)
    .put(track())
    .send({ wet, ...more });

/** An accepted car with so much tread at every place; undefined: nobody said. */
async function enter(depth: number | undefined, over: Record<string, unknown> = {}): Promise<TestEntry> {
  const entry = await createTestEntry(t, event, over);
  await submit(t, entry, depth === undefined ? GOOD_ANSWERS : withTread(depth));
  const { body } = await claim(t, event, entry.carNumber);
  const signed = await signOff(t, body.claimId, { decision: 'accept', stickerNumber: `W${entry.carNumber}` });
  expect(signed.status).toBe(201);
  return entry;
}

async function snapshot() {
  await sealed(t);
  const { body } = await t.api('marshal').get(`/v1/events/${event.eventId}/gate/snapshot`).buffer(true).parse(asText);
  const keys = (await t.api(undefined).get('/.well-known/jwks.json')).body;
  const result = await verifySnapshot(body, keys, { eventId: event.eventId, now: t.clock.now() });
  if (!result.ok) throw new Error(result.detail);
  return result.snapshot;
}

describe('a wet track', () => {
  test('keeps in slicks, low grooves and unknown tread, for its own group only, and says how many before and after', async () => {
    const fit = await enter(3);
    const worn = await enter(2.9);
    const slick = await enter(0);
    const unknown = await enter(undefined);
    const other = await enter(undefined, { runGroupId: event.advanced });
    await createTestEntry(t, event);
    t.clock.set(ON_THE_DAY);
    const before = await t.api('marshal').get(track());
    expect(before.body).toMatchObject({ wet: false, since: null, by: null, wouldGo: 4, stayIn: 3 });
    expect((await gate(t, event, slick.carNumber)).admit).toBe(true);

    const told = await say(true, 'chief', { reason: 'Rain over the whole circuit' });
    expect(told.status).toBe(200);
    expect(told.body).toMatchObject({ wet: true, since: ON_THE_DAY, wouldGo: 4, stayIn: 3 });
    expect(told.body.cars).toEqual([
      { entryId: worn.entryId, carNumber: worn.carNumber, reason: expect.stringContaining('2.9 mm') },
      { entryId: slick.entryId, carNumber: slick.carNumber, reason: SLICKS },
      { entryId: unknown.entryId, carNumber: unknown.carNumber, reason: NOT_KNOWN },
    ]);
    const says = async (entry: TestEntry) => (await gate(t, event, entry.carNumber)).reason;
    expect(await says(slick)).toBe(SLICKS);
    expect(await says(worn)).toBe('Wet track: the lowest groove is 2.9 mm, and 3 mm are needed.');
    expect(await says(unknown)).toBe(NOT_KNOWN);
    for (const { carNumber } of [fit, other]) expect((await gate(t, event, carNumber)).admit).toBe(true);

    const list = await t.api('marshal').get(`/v1/events/${event.eventId}/gate`);
    const admitted = (list.body.entries as { carNumber: string; admit: boolean }[]).filter(({ admit }) => admit);
    expect(admitted.map(({ carNumber }) => carNumber).sort()).toEqual([fit.carNumber, other.carNumber].sort());
    const ready = await t.api('marshal').get(`/v1/events/${event.eventId}/readiness`);
    expect(ready.body.entries.statuses).toMatchObject({ held: 3, clear: 2 });
    const read = await t.api(slick.entrant).get(`/v1/entries/${slick.entryId}`);
    expect(read.body.clearance).toMatchObject({ admit: false, reason: SLICKS });

    expect((await say(false)).body).toMatchObject({ wet: false, since: null, by: null, stayIn: 3 });
    for (const entry of [fit, worn, slick, unknown]) expect((await gate(t, event, entry.carNumber)).admit).toBe(true);
  });

  test('is known to a device without a network, as it was when its list was made', async () => {
    const cars = [await enter(3), await enter(1), await enter(0), await enter(undefined)];
    t.clock.set(ON_THE_DAY);
    for (const wet of [false, true, false]) {
      await say(wet);
      const kept = await snapshot();
      for (const { carNumber } of cars) {
        const online = await gate(t, event, carNumber);
        const offline = answerOffline(kept, carNumber, t.clock.now());
        expect(offline).toMatchObject({ admit: online.admit, status: online.status, reason: online.reason });
      }
      expect(cars.filter(({ carNumber }) => answerOffline(kept, carNumber, t.clock.now()).admit)).toHaveLength(
        wet ? 1 : 4,
      );
    }
  });

  test('goes by what the line measured, not by what was declared', async () => {
    const entry = await createTestEntry(t, event);
    await submit(t, entry, withTread(2));
    const { body } = await claim(t, event, entry.carNumber);
    const checks = ZONES.map((position) => ({ item: 'tyre.tread', position, value: 5 }));
    expect((await signOff(t, body.claimId, { decision: 'accept', stickerNumber: 'W1', checks })).status).toBe(201);
    expect((await factsOf(t, entry.entryId)).declared?.wet).toEqual({ fit: true });
    t.clock.set(ON_THE_DAY);
    await say(true);
    expect((await gate(t, event, entry.carNumber)).admit).toBe(true);
  });

  test('counts the limit of the group', async () => {
    const parameters = { wetTreadMinimum: { value: 5, unit: 'mm', meaning: 'Wet' } };
    const api = t.api('organizer');
    const { body } = await api.get(`/v1/rule-sets/${event.ruleSetId}`);
    const document = { ...body.document, parameters: { ...body.document.parameters, ...parameters } };
    const path = `/v1/rule-sets/${event.ruleSetId}`;
    await api.put(path).set('if-match', '*').send({ name: 'Test rules', document }).expect(200);
    await api.post(`${path}/publish`).set('if-match', '*').send({ changelog: 'Wet' }).expect(201);
    const group = `/v1/events/${event.eventId}/run-groups/${event.novice}`;
    await api.patch(group).set('if-match', '*').send({ ruleSetVersion: 2 }).expect(200);
    const entry = await enter(4.5);
    t.clock.set(ON_THE_DAY);
    await say(true);
    expect((await gate(t, event, entry.carNumber)).reason).toContain(
      'the lowest groove is 4.5 mm, and 5 mm are needed',
    );
  });

  test('keeps in what was signed off before anybody asked for tyres', async () => {
    const entry = await enter(6);
    await sql(t, `UPDATE clearances SET facts = facts #- '{declared,wet}' WHERE entry_id = $1`, [entry.entryId]);
    t.clock.set(ON_THE_DAY);
    await say(true);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, reason: NOT_KNOWN });
  });

  test('stays wet when the group is changed otherwise', async () => {
    await say(true);
    const path = `/v1/events/${event.eventId}/run-groups/${event.novice}`;
    const changed = await t.api('organizer').patch(path).set('if-match', '*').send({ name: 'Beginners' });
    expect(changed.body).toMatchObject({ name: 'Beginners', wet: true });
    expect((await t.api('marshal').get(track())).body).toMatchObject({ wet: true, runGroup: 'Beginners' });
  });

  test('stands in the history of the event, once for each change', async () => {
    await say(true, 'organizer', { reason: 'Rain' });
    await say(true);
    await say(false);
    const { body } = await t.api('organizer').get(`/v1/events/${event.eventId}/history`);
    const rows = (body.history as { action: string; data: unknown }[]).filter(
      ({ action }) => action === 'run-group.wet-switched',
    );
    expect(rows.map(({ data }) => data)).toEqual([
      { runGroupId: event.novice, wet: true, stayIn: 0, reason: 'Rain' },
      { runGroupId: event.novice, wet: false, stayIn: 0 },
    ]);
    await sealed(t);
    const audit = await t.api('organizer').get(`/v1/events/${event.eventId}/audit`);
    expect(audit.body).toMatchObject({ intact: true });
  });

  test('is refused to others, and for a group of another event', async () => {
    for (const role of ['inspector', 'marshal'] as const) {
      expect((await t.api(role).put(track()).send({ wet: true })).status).toBe(403);
    }
    const other = await createTestEvent(t);
    expect((await t.api('chief').put(track(event, other.novice)).send({ wet: true })).status).toBe(404);
    expect((await t.api('chief').put(track(event, UNKNOWN)).send({ wet: true })).status).toBe(404);
    expect((await t.api('chief').put(track()).send({})).status).toBe(400);
    expect((await t.api('marshal').get(track())).body.wet).toBe(false);
  });
});

describe('who follows', () => {
  test('is told of each entry of the group by the stream', async () => {
    const slick = await enter(0);
    const fit = await enter(6);
    t.clock.set(ON_THE_DAY);
    await sealed(t);
    const { token } = await t.mint('marshal');
    const reader = await openReader(t, `/v1/events/${event.eventId}/stream`, { token });
    try {
      await say(true);
      await sealed(t);
      const changes = () =>
        reader.messages.map(({ data }) => data).filter(({ action }) => action === 'run-group.wet-switched');
      await waitFor('both entries are told', () => changes().length === 2);
      expect(Object.fromEntries(changes().map((data) => [data['carNumber'], data['status']]))).toEqual({
        [slick.carNumber]: 'held',
        [fit.carNumber]: 'clear',
      });
    } finally {
      reader.cut();
    }
  });

  test('is told of the cars that are kept in by webhooks, and when they have their clearance back', async () => {
    const slick = await enter(0);
    await enter(6);
    t.clock.set(ON_THE_DAY);
    // That they may go since this morning is told by what happens next, whatever it is.
    await say(true);
    await say(false);
    await sealed(t);
    await runDueJobs(t);
    const receiver = await startReceiver();
    try {
      await createHook(t, { url: receiver.url, eventId: event.eventId, types: ['clearance.changed'] });
      await say(true);
      await sealed(t);
      await runDueJobs(t);
      await say(false);
      await sealed(t);
      await runDueJobs(t);
      const data = receiver.received.map(({ body }) => JSON.parse(body).data);
      expect(data).toMatchObject([
        { entryId: slick.entryId, status: 'held', admit: false, previousStatus: 'clear' },
        { entryId: slick.entryId, status: 'clear', admit: true, previousStatus: 'held' },
      ]);
      expect(data).toHaveLength(2);
    } finally {
      receiver.close();
    }
  });
});

test('a car that is accepted on a wet track answers with what the gate says', async () => {
  const entry = await createTestEntry(t, event);
  await submit(t, entry);
  t.clock.set(ON_THE_DAY);
  await say(true);
  const { body } = await claim(t, event, entry.carNumber);
  const signed = await signOff(t, body.claimId, { decision: 'accept', stickerNumber: 'W9' });
  expect(signed.body.clearance).toMatchObject({ admit: false, status: 'held', reason: NOT_KNOWN });
});
