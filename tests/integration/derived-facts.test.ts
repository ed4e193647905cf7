import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { claim, signOff, submit, type TestEntry } from '../support/event.ts';
import { wholeRevision } from '../support/form.ts';

const BASIS = { kind: 'common-practice' };
const rule = (id: string, items: string[], expr: string, more: Record<string, unknown> = {}) => ({
  id,
  title: `Rule ${id}`,
  items,
  test: { kind: 'expression', expr },
  effect: 'bar',
  message: 'Not as it must be.',
  fix: 'Put it right.',
  basis: BASIS,
  ...more,
});
const RULES = {
  name: 'Rules on derived facts',
  parameters: {},
  rules: [
    rule('tyre-age', ['tyre.date-code'], 'facts.tyreAge < q(120, "month")', { each: 'wheel' }),
    rule('pads-last', ['pad.thickness'], 'facts.padThicknessAtEnd >= q(2, "mm")', {
      each: 'wheel-side',
      when: 'has(facts.padThicknessAtEnd)',
    }),
    rule(
      'fluid-for-venue',
      ['brake-fluid.wet-boiling-point'],
      'brake_fluid.wet_boiling_point >= facts.brakeWetBoilingPointNeeded',
      {
        when: 'has(facts.brakeWetBoilingPointNeeded)',
      },
    ),
  ],
  examples: [],
};
const PADS = ['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out'];
const pads = (mm: number) => Object.fromEntries(PADS.map((position) => [position, mm]));
const codes = (code: string) => ({ FL: code, FR: code, RL: code, RR: code });
const answers = (padMm: number, more: Record<string, unknown> = {}) => ({
  'tyre.date-code': codes('2324'),
  'pad.thickness': pads(padMm),
  'brake-fluid.wet-boiling-point': 165,
  ...more,
});
const HEAVY = Array.from({ length: 6 }, () => ({ fromKmh: 240, toKmh: 70 }));
const LIGHT = [{ fromKmh: 130, toKmh: 100 }];
const CAR = { description: 'Saloon 3.0, 2018', massKg: 1680, body: 'closed', powertrain: 'combustion' };

let t: TestApp;
let ruleSetId: string;

beforeAll(async () => {
  t = await startTestApp();
  const api = t.api('organizer');
  const draft = await api.post('/v1/rule-sets').send({ name: 'Facts', document: RULES }).expect(201);
  ruleSetId = draft.body.ruleSetId;
  await api
    .post(`/v1/rule-sets/${ruleSetId}/publish`)
    .set('if-match', draft.headers['etag'] ?? '')
    .send({ changelog: 'First version' })
    .expect(201);
});
afterAll(() => t.close());

interface Event {
  eventId: string;
  venueId: string;
  runGroupId: string;
}

/** An event of its own at a venue of its own; declarations are open all year. */
async function makeEvent(startsOn: string, endsOn: string, venue: Record<string, unknown> = {}): Promise<Event> {
  const api = t.api('organizer');
  const made = await api
    .post('/v1/venues')
    .send({ name: 'Circuit', timeZone: 'Europe/Berlin', ...venue })
    .expect(201);
  const { venueId } = made.body;
  const event = await api
    .post('/v1/events')
    .send({
      name: `Event ${randomUUID()}`,
      venueId,
      startsOn,
      endsOn,
      declarationsOpenAt: '2026-01-01T06:00:00Z',
      declarationsCloseAt: `${endsOn}T06:00:00Z`,
    })
    .expect(201);
  const { eventId } = event.body;
  const group = await api
    .post(`/v1/events/${eventId}/run-groups`)
    .send({
      name: 'All',
      order: 1,
      firstSessionAt: `${startsOn}T07:00:00Z`,
      ruleSetId,
      ruleSetVersion: 1,
      parameters: {},
    })
    .expect(201);
  return { eventId, venueId, runGroupId: group.body.runGroupId };
}

async function enter(event: Event, car: Record<string, unknown> = { vehicle: CAR }): Promise<TestEntry> {
  const carNumber = String(Math.floor(Math.random() * 9000) + 1000);
  const body = { carNumber, runGroupId: event.runGroupId, entrant: { name: `Entrant of ${carNumber}` }, ...car };
  const made = await t.api('organizer').post(`/v1/events/${event.eventId}/entries`).send(body).expect(201);
  const { entryId } = made.body;
  return { entryId, carNumber, entrant: await t.mint('entrant', { holder: `Entrant of ${carNumber}`, entryId }) };
}

async function vehicleOf(entry: TestEntry): Promise<string> {
  return (await t.api('organizer').get(`/v1/entries/${entry.entryId}`).expect(200)).body.vehicleId;
}

/** Accepted at the line on this instant, with pads measured at one place. */
async function accept(event: Event, entry: TestEntry, at: string, checks: unknown[] = []): Promise<void> {
  t.clock.set(at);
  const claimed = await claim(t, event as never, entry.carNumber);
  expect(claimed.status).toBe(201);
  const signed = await signOff(t, claimed.body.claimId, {
    decision: 'accept',
    stickerNumber: `S${entry.carNumber}`,
    checks,
  });
  expect(signed.status, JSON.stringify(signed.body)).toBe(201);
}

const findingOf = (body: { findings: { ruleId: string; position?: string }[] }, ruleId: string, position?: string) =>
  body.findings.find((finding) => finding.ruleId === ruleId && finding.position === position);

describe('an old tyre', () => {
  test('is barred by its date code', async () => {
    const entry = await enter(await makeEvent('2026-06-13', '2026-06-14'));
    const old = await submit(t, entry, answers(9, { 'tyre.date-code': { ...codes('2324'), RR: '2416' } }));
    expect(old.body.verdict).toBe('barred');
    expect(findingOf(old.body, 'tyre-age', 'RR')).toMatchObject({
      result: 'not-met',
      measured: { value: 120, unit: 'month' },
    });
    expect((await submit(t, entry, answers(9))).body.verdict).toBe('clean');
  });
});

describe('the venue', () => {
  test('with heavy braking asks for more than the light one, for the same car', async () => {
    const venue = { lapLengthM: 3400, designAirTemperatureC: 28 };
    const heavy = await enter(await makeEvent('2026-06-13', '2026-06-14', { ...venue, brakingZones: HEAVY }));
    const light = await enter(await makeEvent('2026-06-13', '2026-06-14', { ...venue, brakingZones: LIGHT }));
    const [atHeavy, atLight] = [await submit(t, heavy, answers(9)), await submit(t, light, answers(9))];
    expect([atHeavy.body.verdict, atLight.body.verdict]).toEqual(['barred', 'clean']);
    const limitOf = async ({ body }: typeof atHeavy) => {
      const { limit = '' } = findingOf(await wholeRevision(t, body), 'fluid-for-venue') as { limit?: string };
      return Number(/≥ (\d+) °C/.exec(limit)?.[1]);
    };
    expect(await limitOf(atHeavy)).toBeGreaterThan(await limitOf(atLight));
  });

  test('may change: what was judged stays as it was judged', async () => {
    const event = await makeEvent('2026-06-13', '2026-06-14', { lapLengthM: 3400, brakingZones: LIGHT });
    const entry = await enter(event);
    const submitted = await submit(t, entry, answers(9));
    const api = t.api('organizer');
    const before = await api.get(`/v1/venues/${event.venueId}`);
    const changed = { name: 'Circuit', timeZone: 'Europe/Berlin', lapLengthM: 3400, brakingZones: HEAVY };
    await api
      .put(`/v1/venues/${event.venueId}`)
      .set('if-match', before.headers['etag'] ?? '')
      .send(changed)
      .expect(200);
    const told = await api.get(`/v1/inspections/${submitted.body.inspectionId}/findings/fluid-for-venue`);
    expect(JSON.stringify(told.body)).toContain('"judgedAgain":"same"');
    expect((await submit(t, entry, answers(9))).body.verdict).toBe('barred');
  });
});

describe('a car that comes again', () => {
  /** Two days in spring with 9 mm, 7.5 mm measured before two days in June: 0.75 mm a day. */
  async function twoEvents() {
    const spring = await makeEvent('2026-04-18', '2026-04-19');
    const first = await enter(spring);
    t.clock.set('2026-04-17T08:00:00Z');
    await submit(t, first, answers(9.5));
    const checks = PADS.map((position) => ({ item: 'pad.thickness', position, value: 9 }));
    await accept(spring, first, '2026-04-18T06:00:00Z', checks);
    t.clock.set('2026-06-10T08:00:00Z');
    const june = await makeEvent('2026-06-13', '2026-06-14');
    const vehicleId = await vehicleOf(first);
    return { spring, first, june, vehicleId, second: await enter(june, { vehicleId }) };
  }

  test('is judged by how its pads wore: 9 mm in spring, 4 mm now, nothing left at the end', async () => {
    const { second } = await twoEvents();
    const thin = await submit(t, second, answers(4));
    expect(thin.body.verdict).toBe('barred');
    // 5 mm in two days; two days to come
    expect(findingOf(thin.body, 'pads-last', 'FL.in')).toMatchObject({ result: 'not-met', measured: { value: 0 } });
    const good = await submit(t, second, answers(7.5));
    expect(findingOf(await wholeRevision(t, good.body), 'pads-last', 'FL.in')).toMatchObject({
      result: 'met',
      measured: { value: 6 },
    });
    expect(good.body.verdict).toBe('clean');
  });

  test('judges a stored inspection again the same, and without the history of other cars', async () => {
    const { second, june } = await twoEvents();
    const submitted = await submit(t, second, answers(4));
    const told = await t.api('organizer').get(`/v1/inspections/${submitted.body.inspectionId}/findings/pads-last`);
    expect(JSON.stringify(told.body)).toContain('"judgedAgain":"same"');
    const stored = await t.deps.db.prisma.inspection.findUniqueOrThrow({
      where: { id: submitted.body.inspectionId },
    });
    expect(stored.context).toMatchObject({
      earlier: [{ startsOn: '2026-04-18', endsOn: '2026-04-19', daysBefore: 0, daysAfter: 2, padThicknessMm: pads(9) }],
    });
    const stranger = await submit(t, await enter(june), answers(4));
    expect(findingOf(await wholeRevision(t, stranger.body), 'pads-last', 'FL.in')).toBeUndefined();
  });

  test('is judged by what was written down between sessions, too, and each forecast says what it rests on', async () => {
    const { first, second } = await twoEvents();
    t.clock.set('2026-04-18T18:00:00Z');
    const lowest = (value: number) => ({ basis: 'lowest-of-axle', value });
    const write = (values: unknown, more: Record<string, unknown> = {}) =>
      t
        .api(first.entrant)
        .post(`/v1/entries/${first.entryId}/log`)
        .set('idempotency-key', randomUUID())
        .send({ kind: 'pads', session: '3', at: '2026-04-18T16:00:00Z', values: { 'pad.thickness': values }, ...more });
    expect((await write({ front: lowest(8.2) })).status).toBe(201);
    expect((await write({ rear: lowest(11) }, { renewed: ['rear'] })).status).toBe(201);
    const wrong = await write({}, { kind: 'note', note: 'x', values: undefined, renewed: ['rear'] });
    expect(wrong.body.errors).toMatchObject([{ pointer: '/renewed', code: 'not-of-this-kind' }]);
    t.clock.set('2026-06-10T08:00:00Z');
    const form = await t.api(second.entrant).get(`/v1/entries/${second.entryId}/form`);
    const item = form.body.items.find((one: { key: string }) => one.key === 'pad.thickness');
    expect(item.earlier).toMatchObject({
      answer: { front: lowest(8.2), rear: lowest(11) },
      loggedAt: '2026-04-18T16:00:00.000Z',
      renewed: ['rear'],
    });
    const submitted = await submit(t, second, answers(7.5));
    const judged = await wholeRevision(t, submitted.body);
    // 0.8 mm in half a day is the fastest: 1.6 mm a day, two days to come
    expect(findingOf(judged, 'pads-last', 'FL.in')).toMatchObject({ measured: { value: 4.3 } });
    // new ones at the rear: 3.5 mm in a day and a half
    expect(findingOf(judged, 'pads-last', 'RL.in')).toMatchObject({ measured: { value: 2.8 } });
    const told = await t.api('organizer').get(`/v1/inspections/${submitted.body.inspectionId}/findings/pads-last`);
    expect(told.body.judgedAgain).toBe('same');
    const at = told.body.positions.find((one: { position: string }) => one.position === 'RL.in');
    expect(at.facts[0].restsOn).toEqual([
      '11 mm written down between sessions, 2026-04-18, after 3, new pads: 0.5 days driven',
      '7.5 mm now, 2026-06-13: 2 days driven',
      '2 days to come',
    ]);
  });

  test('was not driven where it was never accepted, or only declared at an event to come', async () => {
    const spring = await makeEvent('2026-04-18', '2026-04-19');
    const first = await enter(spring);
    await submit(t, first, answers(9));
    const vehicleId = await vehicleOf(first);
    const second = await enter(await makeEvent('2026-06-13', '2026-06-14'), { vehicleId });
    const judged = await wholeRevision(t, (await submit(t, second, answers(4))).body);
    expect(findingOf(judged, 'pads-last', 'FL.in')).toBeUndefined();
  });

  test('keeps its records: what was measured, serviced and set up, event by event', async () => {
    const { second, vehicleId, first } = await twoEvents();
    await submit(t, second, answers(7.5, { 'brake-fluid.flushed-on': '2026-05-20', 'setup.ride-height': { FL: 110 } }));
    const read = (as: Parameters<TestApp['api']>[0]) => t.api(as).get(`/v1/vehicles/${vehicleId}/records`);
    const { body } = await read('marshal').expect(200);
    expect(body).toMatchObject({ vehicleId, vehicle: CAR });
    expect(
      body.events.map((event: { startsOn: string; decision: string | null }) => [event.startsOn, event.decision]),
    ).toEqual([
      ['2026-06-13', null],
      ['2026-04-18', 'accept'],
    ]);
    const [june, spring] = body.events;
    expect(spring.wear).toContainEqual({
      item: 'pad.thickness',
      label: 'Friction material thickness',
      position: 'FL.in',
      value: 9,
      unit: 'mm',
      by: 'inspector',
    });
    expect(june.services).toEqual([
      {
        item: 'brake-fluid.flushed-on',
        label: 'Brake fluid last flushed on',
        value: '2026-05-20',
        by: 'entrant',
      },
    ]);
    expect(june.setup).toEqual([
      { item: 'setup.ride-height', label: 'Ride height', position: 'FL', value: 110, unit: 'mm', by: 'entrant' },
    ]);
    await read(second.entrant).expect(200);
    await read(first.entrant).expect(200);
    const other = await enter(await makeEvent('2026-06-13', '2026-06-14'));
    const hidden = await read(other.entrant).expect(404);
    const missing = await t.api(other.entrant).get(`/v1/vehicles/${randomUUID()}/records`).expect(404);
    expect(hidden.body.detail).toBe(missing.body.detail);
  });

  test('comes again by a file that names it', async () => {
    const { vehicleId } = await twoEvents();
    const event = await makeEvent('2026-09-12', '2026-09-13');
    const send = (...rows: string[]) =>
      t
        .api('organizer')
        .post(`/v1/events/${event.eventId}/entries/import`)
        .set('content-type', 'text/csv')
        .send(['carNumber,runGroup,entrantName,vehicleId,vehicle.massKg', ...rows].join('\r\n'));
    const bad = await send(
      `71,All,Ines,${randomUUID()},`,
      '72,All,Ines,not-an-id,',
      `73,All,Ines,${vehicleId},1500`,
      '74,All,Ines,,',
    );
    const errors = bad.body.rows.map((row: { errors: { column: string; code: string }[] }) =>
      row.errors.map(({ column, code }) => `${column} ${code}`),
    );
    expect(errors).toEqual([
      ['vehicleId unknown-reference'],
      ['vehicleId unknown-reference'],
      ['vehicle.massKg shared-car-differs'],
      ['vehicle.description missing'],
    ]);
    const good = await send(`71,All,Ines,${vehicleId},1680`);
    expect(good.body).toMatchObject({ created: 1 });
    const entered = await t.api('organizer').get(`/v1/entries/${good.body.rows[0].entryId}`);
    expect(entered.body).toMatchObject({ vehicleId, vehicle: CAR });
    expect((await send(`71,All,Ines,${vehicleId.toUpperCase()},`)).body).toMatchObject({ unchanged: 1 });
    expect((await send(`71,All,Ines,${randomUUID()},`)).body.rows[0].errors[0].code).toBe('other-vehicle');
  });
});

describe('what the driver felt', () => {
  test('adds points to the claim, with the reason, before those of every car', async () => {
    const event = await makeEvent('2026-06-13', '2026-06-14');
    const entry = await enter(event);
    t.clock.set('2026-06-10T08:00:00Z');
    await submit(t, entry, answers(9, { 'debrief.symptoms': ['pulls-under-braking'] }));
    const claimed = await claim(t, event as never, entry.carNumber, 'inspector');
    const points: { item: string; position?: string; why: string; ruleId?: string }[] = claimed.body.pointsToCheck;
    expect(points[0]).toMatchObject({
      item: 'caliper.guides',
      position: 'FL',
      why: expect.stringMatching(/^Felt last time: pulls-under-braking: /),
    });
    expect(points.filter(({ why }) => why.startsWith('Felt last time')).length).toBeGreaterThan(5);
    const cells = points.map(({ item, position }) => `${item}@${position}`);
    expect(new Set(cells).size).toBe(cells.length);
  });
});
