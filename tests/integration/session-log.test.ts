import { randomUUID } from 'node:crypto';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { TORQUE_RECHECK_TEXT } from '../../src/domain/log/condition-words.ts';
import { startTestApp, TEST_NOW, type TestApp, type TestToken } from '../support/app.ts';
import {
  accept,
  createTestEntry,
  createTestEvent,
  gate,
  SMALL_RULE_SET,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { actionsOf, factsOf, historyOf, sql } from '../support/records.ts';

const ON_THE_DAY = '2026-06-13T08:00:00.000Z';
const RULES = {
  ...SMALL_RULE_SET,
  parameters: {
    ...SMALL_RULE_SET.parameters,
    torqueRecheck: { value: true, meaning: 'Again after the first session' },
  },
};
const WHEELS = ['FL', 'FR', 'RL', 'RR'];
const lowest = (depth: number) => ({ 'tyre.tread-lowest': Object.fromEntries(WHEELS.map((wheel) => [wheel, depth])) });
const TORQUE = { kind: 'torque', values: { 'wheel.torque-setting': 110 }, wheelsCooled: true };
const FUEL = { kind: 'symptom', symptoms: ['smell-of-fuel'] };

let t: TestApp;
let event: TestEvent;
let entry: TestEntry;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());
beforeEach(async () => {
  event = await createTestEvent(t);
  entry = await createTestEntry(t, event);
});
afterEach(() => t.clock.set(TEST_NOW));

const write = (body: object, as: TestToken | 'inspector' | 'marshal' = entry.entrant, key: string = randomUUID()) =>
  t.api(as).post(`/v1/entries/${entry.entryId}/log`).set('idempotency-key', key).send(body);
const list = (query = '', as: TestToken | 'organizer' = entry.entrant) =>
  t.api(as).get(`/v1/entries/${entry.entryId}/log${query}`);

/** The entry accepted under rules that ask for the torque again, on the morning of the first day. */
async function accepted(more: Record<string, unknown> = {}): Promise<void> {
  event = await createTestEvent(t, RULES);
  entry = await createTestEntry(t, event, more);
  expect((await accept(t, event, entry)).status).toBe(201);
  t.clock.set(ON_THE_DAY);
}

describe('the log', () => {
  test('keeps what was typed, in its unit and in the unit of the catalogue, and changes no declaration', async () => {
    await accept(t, event, entry);
    const before = await factsOf(t, entry.entryId);
    const values = { 'tyre.hot-pressure': { FL: { value: 32, unit: 'psi' }, FR: 221 } };
    const written = await write({ kind: 'pressures', session: '2', at: '2026-06-05T09:00:00+02:00', values });
    expect(written.status).toBe(201);
    expect(written.body).toMatchObject({
      kind: 'pressures',
      session: '2',
      at: '2026-06-05T07:00:00.000Z',
      values,
      // NIST Special Publication 811, appendix B: 1 psi is 6.894757 kPa, so 32 are 221.
      cells: { 'tyre.hot-pressure@FL': 221, 'tyre.hot-pressure@FR': 221 },
      writtenBy: { role: 'entrant', name: `Entrant of ${entry.carNumber}` },
      says: [],
    });
    expect(await factsOf(t, entry.entryId)).toEqual(before);
    const rows = await historyOf(t, entry.entryId);
    expect(rows.at(-1)).toMatchObject({
      action: 'log.written',
      data: { logId: written.body.logId, kind: 'pressures' },
    });
    expect(JSON.stringify(rows)).not.toContain('psi');
    const read = await t.api('organizer').get(`/v1/entries/${entry.entryId}/inspections`);
    expect(read.body.inspections).toHaveLength(1);
  });

  test('is listed the newest first, in pages', async () => {
    for (const laps of [5, 7, 9]) expect((await write({ kind: 'laps', laps })).status).toBe(201);
    await write({ kind: 'temperatures', temperatures: [{ place: 'FL rotor', value: 932, unit: '°F' }] }, 'marshal');
    const first = await list('?limit=3');
    // NIST Special Publication 811, appendix B: (932 °F − 32) / 1.8 = 500 °C.
    expect(first.body.log[0].temperatures).toEqual([{ place: 'FL rotor', value: 932, unit: '°F', celsius: 500 }]);
    expect(first.body.log[0].writtenBy.role).toBe('marshal');
    expect(first.body.log.map((one: { laps?: number }) => one.laps)).toEqual([undefined, 9, 7]);
    const second = await list(`?limit=3&cursor=${first.body.next}`, 'organizer');
    expect(second.body).toMatchObject({ log: [{ laps: 5 }] });
    expect(second.body.next).toBeUndefined();
    expect((await list('?cursor=x')).status).toBe(400);
  });

  test('takes a repeat once, and refuses the key with another body', async () => {
    const key = randomUUID();
    const [one, two] = [
      await write({ kind: 'laps', laps: 5 }, entry.entrant, key),
      await write({ kind: 'laps', laps: 5 }, entry.entrant, key),
    ];
    expect(two.body).toEqual(one.body);
    expect(two.headers['idempotency-replayed']).toBe('true');
    expect((await write({ kind: 'laps', laps: 6 }, entry.entrant, key)).status).toBe(422);
    expect((await list()).body.log).toHaveLength(1);
    const bare = await t.api(entry.entrant).post(`/v1/entries/${entry.entryId}/log`).send({ kind: 'laps', laps: 5 });
    expect([bare.status, bare.body.code]).toEqual([400, 'idempotency-key-required']);
  });

  test.each([
    [
      'a value that is none',
      { kind: 'pads', values: { 'pad.thickness': { 'FL.in': 'thin' } } },
      '/values/pad.thickness/FL.in',
    ],
    ['an item of another kind', { kind: 'pads', values: lowest(5) }, '/values/tyre.tread-lowest'],
    ['nothing', { kind: 'note' }, '/note'],
    ['a time ahead', { kind: 'laps', laps: 5, at: '2026-06-20T08:00:00Z' }, '/at'],
    ['a field that nobody knows', { kind: 'laps', laps: 5, lap: 5 }, '/lap'],
    ['a symptom that nobody knows', { kind: 'symptom', symptoms: ['bad luck'] }, '/symptoms/0'],
  ])('refuses %s, naming the place, and keeps nothing', async (_, body, pointer) => {
    const refused = await write(body);
    expect([400, 422]).toContain(refused.status);
    expect(refused.body.errors.map((error: { pointer: string }) => error.pointer)).toContain(pointer);
    expect((await list()).body.log).toEqual([]);
  });

  test('is append-only but for a name', async () => {
    await write({ kind: 'note', note: 'Understeer in the hairpin' });
    for (const change of [
      `UPDATE session_log SET content = '{}'`,
      `UPDATE session_log SET written_name = 'Somebody'`,
      'DELETE FROM session_log',
    ]) {
      await expect(sql(t, change)).rejects.toThrow('append-only');
    }
  });

  test('is closed for an entry that is out of the event, and for strangers', async () => {
    const other = await createTestEntry(t, event);
    expect((await write({ kind: 'laps', laps: 5 }, other.entrant)).status).toBe(404);
    await t.api('organizer').post(`/v1/entries/${entry.entryId}/withdraw`).send({});
    expect((await write({ kind: 'laps', laps: 5 })).body.code).toBe('state-moved-on');
  });
});

describe('a symptom with which nobody drives on', () => {
  test('stops the car at once, as the entrant’s own hold, which the staff lifts', async () => {
    await accept(t, event, entry);
    t.clock.set(ON_THE_DAY);
    expect((await gate(t, event, entry.carNumber)).admit).toBe(true);
    const written = await write({ ...FUEL, note: 'Only in left corners' });
    expect(written.body).toMatchObject({
      clearance: { admit: false, status: 'held' },
      says: [expect.stringContaining('The car is stopped')],
    });
    expect(await gate(t, event, entry.carNumber)).toMatchObject({
      admit: false,
      reason: 'Held: After a session: smell of fuel.',
    });
    expect(await actionsOf(t, entry.entryId)).toEqual(expect.arrayContaining(['hold.placed', 'log.written']));
    const { holdId } = written.body;
    const again = await write({ kind: 'symptom', symptoms: ['temperature-rising'] });
    expect(again.body.holdId).toBe(holdId);
    expect(await sql(t, 'SELECT kind, by_entrant FROM holds WHERE entry_id = $1', [entry.entryId])).toEqual([
      { kind: 'leak', by_entrant: true },
    ]);
    const lift = (as: TestToken | 'inspector', body: object) => t.api(as).post(`/v1/holds/${holdId}/lift`).send(body);
    expect((await lift(entry.entrant, { reason: 'fine' })).status).toBe(403);
    const checks = ['engine.leaks', 'brake.lines', 'fuel.cap-and-lines'].map((item) => ({ item, result: 'ok' }));
    expect((await lift('inspector', { reason: 'Hose clamp tight, dry', checks })).status).toBe(200);
    expect((await gate(t, event, entry.carNumber)).admit).toBe(true);
  });

  test('that the staff writes down holds the car as well, once; a harmless one holds nothing', async () => {
    await accept(t, event, entry);
    t.clock.set(ON_THE_DAY);
    expect((await write({ kind: 'symptom', symptoms: ['pushes-wide'] })).body.clearance.admit).toBe(true);
    await write(FUEL, 'marshal');
    await write(FUEL, 'marshal');
    expect(await sql(t, 'SELECT by_entrant FROM holds WHERE entry_id = $1', [entry.entryId])).toEqual([
      { by_entrant: false },
    ]);
  });
});

describe('the wheel torque after the first session', () => {
  test('is asked with the acceptance, due when the group goes out on the next day, and closed by the entrant', async () => {
    await accepted();
    const condition = { text: TORQUE_RECHECK_TEXT, dueAt: '2026-06-14T07:00:00.000Z' };
    expect(await gate(t, event, entry.carNumber)).toMatchObject({
      admit: true,
      status: 'clear-with-conditions',
      entries: [{ conditions: [condition] }],
    });
    t.clock.set('2026-06-14T07:00:00.000Z');
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'held' });
    const done = await write(TORQUE);
    expect(done.body).toMatchObject({
      says: [`Done: ${TORQUE_RECHECK_TEXT}.`],
      clearance: { admit: true, status: 'clear' },
    });
    expect(done.body.conditionId).toEqual(expect.any(String));
    expect(await gate(t, event, entry.carNumber)).toMatchObject({
      admit: true,
      status: 'clear',
      entries: [{ conditions: [] }],
    });
    expect(await actionsOf(t, entry.entryId)).toEqual(
      expect.arrayContaining(['car.condition-done', 'condition.done', 'log.written']),
    );
    const [kept] = await sql<{ done_name: string }>(t, 'SELECT done_name FROM conditions WHERE entry_id = $1', [
      entry.entryId,
    ]);
    expect(kept?.done_name).toBe(`Entrant of ${entry.carNumber}`);
    expect((await write(TORQUE)).body.says).toEqual([]);
  });

  test('stays open before the session, on hot wheels, and at another torque than the maker’s, and the entry is kept', async () => {
    const vehicle = { description: 'Coupé', body: 'closed', powertrain: 'combustion', wheelNutTorqueNm: 110 };
    await accepted({ vehicle });
    for (const [over, why] of [
      [{ at: '2026-06-13T06:59:00Z' }, 'after the session'],
      [{ wheelsCooled: false }, 'cooled'],
      [{ values: { 'wheel.torque-setting': 80 } }, 'The maker asks for 110 N·m'],
    ] as const) {
      const { body } = await write({ ...TORQUE, ...over });
      expect(body.says).toEqual([expect.stringContaining(why)]);
      expect(body.clearance.status).toBe('clear-with-conditions');
      expect(body.conditionId).toBeUndefined();
    }
    expect((await list()).body.log).toHaveLength(3);
  });

  test('is asked once for a car in two groups, and not where the rules do not ask', async () => {
    await accepted();
    const { vehicleId } = (await t.api('organizer').get(`/v1/entries/${entry.entryId}`)).body;
    const second = await createTestEntry(t, event, {
      runGroupId: event.advanced,
      vehicle: undefined,
      vehicleId,
      carNumber: entry.carNumber,
    });
    t.clock.set(TEST_NOW);
    await accept(t, event, second, { stickerNumber: 'S2' });
    expect((await factsOf(t, second.entryId)).conditions).toEqual([]);
    const plain = await createTestEvent(t);
    const other = await createTestEntry(t, plain);
    await accept(t, plain, other);
    expect((await factsOf(t, other.entryId)).conditions).toEqual([]);
  });
});

describe('a tread', () => {
  beforeEach(async () => {
    await accept(t, event, entry);
    t.clock.set(ON_THE_DAY);
    await t.api('chief').put(`/v1/events/${event.eventId}/run-groups/${event.novice}/track`).send({ wet: true });
  });

  test('that the staff measured is what the gate goes by on a wet track', async () => {
    expect((await gate(t, event, entry.carNumber)).reason).toContain('tread not known');
    const { body } = await write({ kind: 'tread', values: { 'tyre.kind': 'rain', ...lowest(6) } }, 'inspector');
    expect(body.clearance.admit).toBe(true);
    expect((await gate(t, event, entry.carNumber)).admit).toBe(true);
  });

  test('of the entrant counts only where it is too low', async () => {
    await write({ kind: 'tread', values: lowest(6) });
    expect((await gate(t, event, entry.carNumber)).reason).toContain('tread not known');
    await write({ kind: 'tread', values: lowest(6) }, 'inspector');
    expect((await gate(t, event, entry.carNumber)).admit).toBe(true);
    await write({ kind: 'tread', values: lowest(2) });
    expect((await gate(t, event, entry.carNumber)).reason).toContain('the lowest groove is 2 mm');
  });
});

test('names go with the person, what was written stays and is exported', async () => {
  await accepted();
  await write({ ...TORQUE, note: 'Checked by hand' });
  const exported = await t.api(entry.entrant).get(`/v1/entries/${entry.entryId}/personal-data`);
  expect(exported.body.log).toMatchObject([
    {
      kind: 'torque',
      content: { note: 'Checked by hand' },
      writtenBy: { role: 'entrant', name: `Entrant of ${entry.carNumber}` },
    },
  ]);
  await t.api('organizer').post(`/v1/entries/${entry.entryId}/withdraw`).send({});
  const path = `/v1/entries/${entry.entryId}/erase`;
  const erased = await t.api('organizer').post(path).send({ reason: 'asked', force: true });
  expect(erased.status).toBe(200);
  expect((await list('', 'organizer')).body.log).toMatchObject([
    { note: 'Checked by hand', writtenBy: { name: 'erased' } },
  ]);
  const names = await sql(t, 'SELECT done_name FROM conditions WHERE entry_id = $1', [entry.entryId]);
  expect(names).toEqual([{ done_name: 'erased' }]);
});

describe('a group that looks again each day', () => {
  const DAILY = {
    ...SMALL_RULE_SET,
    parameters: {
      ...SMALL_RULE_SET.parameters,
      dailyRecheck: { value: ['tyres', 'nuts', 'fire extinguisher pin'], meaning: 'Again each day' },
    },
  };

  test('holds the car on the second day until the line has seen it: the entrant cannot end it', async () => {
    event = await createTestEvent(t, DAILY);
    entry = await createTestEntry(t, event);
    const signed = await accept(t, event, entry);
    expect(signed.status, JSON.stringify(signed.body)).toBe(201);
    const [asked, ...others] = signed.body.conditions;
    expect(others).toEqual([]);
    expect(asked.text).toContain('2026-06-14: tyres');
    expect(asked.text).toContain('fire extinguisher pin');
    expect(asked.dueAt).toBe('2026-06-14T07:00:00.000Z');
    t.clock.set(ON_THE_DAY);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: true, status: 'clear-with-conditions' });
    const torque = await write(TORQUE);
    expect(torque.body.conditionId).toBeUndefined();
    t.clock.set('2026-06-14T07:00:00.000Z');
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false });
    const end = (as: TestToken | 'inspector') =>
      t.api(as).post(`/v1/entries/${entry.entryId}/conditions/${asked.id}/done`).send({ note: 'all seen' });
    expect((await end(entry.entrant)).status).toBe(403);
    expect((await end('inspector')).status).toBe(200);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: true });
  });
});
