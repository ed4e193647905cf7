import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import {
  accept,
  claim,
  createTestEntry,
  createTestEvent,
  gate,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { actionsOf, factsOf, historyOf, ordered, sql } from '../support/records.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';
const VEHICLE = { description: 'Club coupé 2.0, 2014', body: 'closed', powertrain: 'combustion' };
/** The rules ask about pads: not at drums. */
const WITH_DRUMS = { ...VEHICLE, rotor: { rear: 'drum' } };

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());

const create = (body: object, as: 'organizer' | 'chief' = 'organizer', eventId = event.eventId) =>
  t.api(as).post(`/v1/events/${eventId}/entries`).send(body);
const entry = (carNumber: string, change: object = {}) => ({
  carNumber,
  runGroupId: event.novice,
  entrant: { name: 'Ines Haldorsen', email: 'ines@example.org', phone: '+49 30 000000' },
  people: [{ name: 'Tor Brekke', role: 'crew' }],
  vehicle: VEHICLE,
  ...change,
});
const read = (entryId: string, as: Parameters<TestApp['api']>[0] = 'organizer') =>
  t.api(as).get(`/v1/entries/${entryId}`);
const patch = async (entryId: string, body: object, ifMatch?: string) => {
  const tag = ifMatch ?? (await read(entryId)).headers['etag'] ?? '';
  return t.api('organizer').patch(`/v1/entries/${entryId}`).set('if-match', tag).send(body);
};
const pointers = (body: { errors: { pointer: string }[] }) => body.errors.map((fault) => fault.pointer);

describe('entering a car', () => {
  test('answers with the entry, stores it with its clearance, and begins its history', async () => {
    const answer = await create(entry('1'));
    expect(answer.status).toBe(201);
    expect(answer.headers['location']).toBe(`/v1/entries/${answer.body.entryId}`);
    expect(answer.headers['etag']).toBe('"1.1"');
    expect(answer.body).toEqual({
      entryId: expect.any(String),
      eventId: event.eventId,
      runGroupId: event.novice,
      runGroup: 'Novice',
      carNumber: '1',
      entrant: { name: 'Ines Haldorsen', email: 'ines@example.org', phone: '+49 30 000000' },
      people: [{ name: 'Tor Brekke', role: 'crew' }],
      vehicleId: expect.any(String),
      vehicle: VEHICLE,
      shared: false,
      clearance: {
        admit: false,
        status: 'no-declaration',
        reason: 'No declaration has been submitted.',
        validUntil: null,
        conditions: [],
      },
      holds: [],
      concessions: [],
      createdAt: expect.any(String),
    });
    const row = await t.deps.db.prisma.entry.findUniqueOrThrow({ where: { id: answer.body.entryId } });
    expect(row.personKeys).toEqual(['ines haldorsen', 'tor brekke']);
    expect(await factsOf(t, row.id)).toEqual({ withdrawn: false, conditions: [], holds: [] });
    const [first, ...more] = await historyOf(t, row.id);
    expect(more).toEqual([]);
    expect(first).toMatchObject({ seq: 1, action: 'entry.created', actorRole: 'organizer', prevHash: '' });
    expect(first?.requestId).toBe(answer.headers['x-request-id']);
    expect(JSON.stringify(first?.data)).not.toContain('Haldorsen');
    expect((await read(row.id)).body).toEqual(answer.body);
  });

  test('takes `7`, `07` and `007` for three cars', async () => {
    const made = await Promise.all(['7', '07', '007'].map((number) => create(entry(number))));
    expect(made.map((answer) => answer.status)).toEqual([201, 201, 201]);
    expect(new Set(made.map((answer) => answer.body.vehicleId)).size).toBe(3);
    expect(made.every((answer) => answer.body.shared === false)).toBe(true);
    expect(await gate(t, event, '7')).toMatchObject({ entries: [{ entryId: made[0]?.body.entryId }] });
    expect(await gate(t, event, '07')).toMatchObject({ entries: [{ entryId: made[1]?.body.entryId }] });
  });

  test('refuses the same number in the same run group, also under the same vehicle', async () => {
    const first = await create(entry('2'));
    const again = [
      entry('2'),
      entry('2', { vehicle: undefined }),
      entry('2', { vehicle: undefined, vehicleId: first.body.vehicleId }),
    ];
    for (const body of again) {
      const answer = await create(body);
      expect(answer.status).toBe(409);
      expect(answer.body).toMatchObject({ code: 'car-number-taken', errors: [{ pointer: '/carNumber' }] });
    }
    expect(await t.deps.db.prisma.entry.count({ where: { eventId: event.eventId, carNumber: '2' } })).toBe(1);
  });

  test('takes the vehicle over for a shared car, and refuses another one', async () => {
    const first = await create(entry('3'));
    const differs = await create(entry('3', { runGroupId: event.advanced }));
    expect(differs.status).toBe(409);
    expect(differs.body).toMatchObject({ code: 'shared-car-differs', vehicleId: first.body.vehicleId });
    const shared = await create(entry('3', { runGroupId: event.advanced, vehicle: undefined }));
    expect(shared.status).toBe(201);
    expect(shared.body).toMatchObject({ vehicleId: first.body.vehicleId, vehicle: VEHICLE, shared: true });
    expect((await read(first.body.entryId)).body.shared).toBe(true);
  });

  test('takes a known vehicle by its id, also for another event', async () => {
    const first = await create(entry('4'));
    const next = await createTestEvent(t);
    const { vehicleId } = first.body;
    const answer = await create(
      entry('4', { runGroupId: next.novice, vehicle: undefined, vehicleId }),
      'organizer',
      next.eventId,
    );
    expect(answer.status).toBe(201);
    expect(answer.body).toMatchObject({ vehicleId, shared: false });
  });

  test.each([
    ['no vehicle for a new number', { vehicle: undefined }, 422, '/vehicle'],
    ['a vehicle that does not exist', { vehicle: undefined, vehicleId: UNKNOWN }, 422, '/vehicleId'],
    ['a run group that does not exist', { runGroupId: UNKNOWN }, 422, '/runGroupId'],
    ['both a vehicle and an id', { vehicleId: UNKNOWN }, 400, '/vehicleId'],
    ['a number with a space', { carNumber: '4 2' }, 400, '/carNumber'],
    ['a number of five digits', { carNumber: '12345' }, 400, '/carNumber'],
    ['a number that is a number', { carNumber: 42 }, 400, '/carNumber'],
    ['an unknown key', { carNumer: '1' }, 400, '/carNumer'],
    ['an unknown key of the vehicle', { vehicle: { ...VEHICLE, wheels: 4 } }, 400, '/vehicle/wheels'],
    ['an unknown key of the entrant', { entrant: { name: 'A', mail: 'a' } }, 400, '/entrant/mail'],
    ['an address that is none', { entrant: { name: 'A', email: 'a' } }, 400, '/entrant/email'],
    ['a person without a role', { people: [{ name: 'A' }] }, 400, '/people/0/role'],
    ['an empty name', { entrant: { name: '  ' } }, 400, '/entrant/name'],
    ['half of a surrogate pair in a name', { entrant: { name: 'A\ud800' } }, 400, '/entrant/name'],
    ['half of a surrogate pair in a description', { vehicle: { description: 'A\udc00' } }, 400, '/vehicle/description'],
  ])('refuses %s and names the place', async (_what, change, status, pointer) => {
    const answer = await create(entry('99', change));
    expect(answer.status, JSON.stringify(answer.body)).toBe(status);
    expect(pointers(answer.body)).toContain(pointer);
    expect(await t.deps.db.prisma.entry.count({ where: { carNumber: '99' } })).toBe(0);
  });

  test('is for organizers, and answers 404 for an unknown event', async () => {
    expect((await create(entry('98'), 'chief')).status).toBe(403);
    expect((await create(entry('98'), 'organizer', UNKNOWN)).status).toBe(404);
  });

  test('50 at once of one number in two run groups make exactly one vehicle', async () => {
    const own = await createTestEvent(t);
    // Upper and lower case of one event id are one event.
    const ids = [own.eventId, own.eventId.toUpperCase()];
    const vehicles = await t.deps.db.prisma.vehicle.count();
    const answers = await Promise.all(
      Array.from({ length: 50 }, (_, i) => {
        const runGroupId = i % 2 === 0 ? own.novice : own.advanced;
        const vehicle = i % 4 < 2 ? VEHICLE : undefined;
        return create(entry('50', { runGroupId, vehicle }), 'organizer', ids[i % 3 === 0 ? 1 : 0]);
      }),
    );
    const made = answers.filter((answer) => answer.status === 201);
    expect([1, 2]).toContain(made.length);
    for (const { status, body } of answers.filter((answer) => answer.status !== 201)) {
      expect([409, 422], JSON.stringify(body)).toContain(status);
      expect(['car-number-taken', 'shared-car-differs', 'not-acceptable']).toContain(body.code);
    }
    expect(await t.deps.db.prisma.vehicle.count()).toBe(vehicles + 1);
    const rows = await t.deps.db.prisma.entry.findMany({ where: { eventId: own.eventId } });
    expect(new Set(rows.map((row) => row.vehicleId)).size).toBe(1);
    expect(new Set(rows.map((row) => row.runGroupId)).size).toBe(rows.length);
  });
});

describe('who reads what', () => {
  test('contact data is for the organizer and the entrant only', async () => {
    const { body } = await create(entry('10'));
    const own = await t.mint('entrant', { entryId: body.entryId });
    expect((await read(body.entryId, own)).body.entrant.email).toBe('ines@example.org');
    for (const role of ['chief', 'inspector'] as const) {
      const seen = await read(body.entryId, role);
      expect(seen.body.entrant).toEqual({ name: 'Ines Haldorsen' });
      expect(seen.text).not.toMatch(/ines@example|\+49/);
    }
    expect((await read(body.entryId, 'marshal')).status).toBe(403);
    expect((await read(UNKNOWN)).status).toBe(404);
  });

  test('the list walks every entry once, by its cursor, and filters', async () => {
    const own = await createTestEvent(t);
    for (const carNumber of ['1', '2', '3', '4', '5']) await createTestEntry(t, own, { carNumber });
    await createTestEntry(t, own, { carNumber: '3', runGroupId: own.advanced, vehicle: undefined });
    const seen: string[] = [];
    let url: string | undefined = `/v1/events/${own.eventId}/entries?limit=4`;
    while (url !== undefined) {
      const page: { body: { entries: { carNumber: string }[]; next?: string }; headers: Record<string, string> } =
        await t.api('organizer').get(url);
      seen.push(...page.body.entries.map((one) => one.carNumber));
      const link: string | undefined = /^<([^>]+)>; rel="next"$/.exec(page.headers['link'] ?? '')?.[1];
      expect(link === undefined).toBe(page.body.next === undefined);
      url = link;
    }
    expect(seen).toEqual(['1', '2', '3', '4', '5', '3']);
    const list = async (query: string) => {
      const { body } = await t.api('organizer').get(`/v1/events/${own.eventId}/entries?${query}`);
      return body.entries.map((one: { carNumber: string; runGroup: string }) => `${one.carNumber} ${one.runGroup}`);
    };
    expect(await list('carNumber=3')).toEqual(['3 Novice', '3 Advanced']);
    expect(await list(`runGroupId=${own.advanced}`)).toEqual(['3 Advanced']);
    expect(await list('carNumber=03')).toEqual([]);
  });

  test('a cursor of other filters is refused, and a limit out of range', async () => {
    const page = await t.api('organizer').get(`/v1/events/${event.eventId}/entries?limit=1`);
    const url = `/v1/events/${event.eventId}/entries`;
    const other = await t.api('organizer').get(`${url}?carNumber=1&cursor=${page.body.next}`);
    expect(other.status).toBe(400);
    expect(other.body.code).toBe('cursor-not-valid');
    for (const limit of ['0', '201', '1.5', 'x']) {
      expect((await t.api('organizer').get(`${url}?limit=${limit}`)).status).toBe(400);
    }
  });
});

describe('changing an entry', () => {
  const inLine = async (change: Record<string, unknown> = {}): Promise<TestEntry> => {
    const made = await createTestEntry(t, event, change);
    expect((await submit(t, made)).status).toBe(201);
    return made;
  };
  const liveTickets = (entryId: string) =>
    t.deps.db.prisma.ticket.count({ where: { entryId, state: { in: ['waiting', 'claimed'] } } });

  test('needs If-Match: 428 without, 412 with an old one, both with the current ETag', async () => {
    const { body, headers } = await create(entry('20'));
    const url = `/v1/entries/${body.entryId}`;
    const without = await t.api('organizer').patch(url).send({ people: [] });
    expect(without.status).toBe(428);
    expect(without.headers['etag']).toBe(headers['etag']);
    const changed = await patch(body.entryId, { people: [] });
    expect(changed.status).toBe(200);
    expect(changed.headers['etag']).not.toBe(headers['etag']);
    const stale = await patch(body.entryId, { people: [] }, headers['etag'] ?? '');
    expect(stale.status).toBe(412);
    expect(stale.headers['etag']).toBe(changed.headers['etag']);
    expect((await patch(body.entryId, { people: [] }, `W/${changed.headers['etag']}`)).status).toBe(412);
    expect((await patch(body.entryId, {}, `"x", ${changed.headers['etag']}`)).status).toBe(200);
    // A change of nothing is no change.
    expect(await actionsOf(t, body.entryId)).toEqual(['entry.created', 'entry.updated']);
  });

  test('of 20 at once from one version exactly one wins', async () => {
    const { body, headers } = await create(entry('21'));
    const answers = await Promise.all(
      Array.from({ length: 20 }, (_, i) =>
        patch(body.entryId, { entrant: { name: `Name ${i}` } }, headers['etag'] ?? ''),
      ),
    );
    expect(answers.map((answer) => answer.status).sort()).toEqual([200, ...Array.from({ length: 19 }, () => 412)]);
    const winner = answers.find((answer) => answer.status === 200);
    expect((await read(body.entryId)).body.entrant).toEqual(winner?.body.entrant);
  });

  test('a new number and new people leave the declaration standing; the gate follows the number', async () => {
    const made = await inLine({ carNumber: '22' });
    const changed = await patch(made.entryId, { carNumber: '22A', people: [{ name: 'Liv Sand', role: 'driver' }] });
    expect(changed.status).toBe(200);
    expect(changed.body.clearance.status).toBe('in-line');
    expect(await gate(t, event, '22')).toMatchObject({ status: 'unknown', similar: expect.arrayContaining(['22A']) });
    expect(await gate(t, event, '22A')).toMatchObject({ status: 'in-line' });
    const row = await t.deps.db.prisma.entry.findUniqueOrThrow({ where: { id: made.entryId } });
    expect(row.personKeys).toContain('liv sand');
    expect(row.personKeys).toContain('entrant of 22');
  });

  test('a taken number is refused, and a number of another car too', async () => {
    await create(entry('23'));
    const other = await create(entry('24'));
    expect((await patch(other.body.entryId, { carNumber: '23' })).body.code).toBe('shared-car-differs');
    const shared = await create(entry('23', { runGroupId: event.advanced, vehicle: undefined }));
    const moved = await patch(shared.body.entryId, { runGroupId: event.novice });
    expect(moved.status).toBe(409);
    expect(moved.body.code).toBe('car-number-taken');
    expect((await patch(other.body.entryId, { runGroupId: UNKNOWN })).status).toBe(422);
    expect((await patch(other.body.entryId, { carnumber: '9' })).body.errors[0].pointer).toBe('/carnumber');
  });

  test('moving to another run group voids what was judged and takes the car off the line', async () => {
    const made = await inLine();
    const claimed = await claim(t, event, made.carNumber);
    expect(claimed.status).toBe(201);
    const moved = await patch(made.entryId, { runGroupId: event.advanced });
    expect(moved.body).toMatchObject({ runGroup: 'Advanced', clearance: { admit: false, status: 'no-declaration' } });
    expect(moved.body.clearance.reason).toContain('the car changed its run group');
    expect(await liveTickets(made.entryId)).toBe(0);
    expect(await t.deps.db.prisma.claim.findUnique({ where: { id: claimed.body.claimId } })).toMatchObject({
      endReason: 'void',
    });
    expect((await actionsOf(t, made.entryId)).slice(-2)).toEqual(['entry.updated', 'declaration.voided']);
    expect((await ordered(t, moved)).map((job) => job.name)).toEqual(['entrant.tell']);
    const again = await submit(t, made);
    // Pads of 8 mm pass the 6 mm of the new group too.
    expect(again.body).toMatchObject({ revision: 2, verdict: 'clean', parameters: { padMinimum: { value: 6 } } });
  });

  test('the same run group again voids nothing, nor does the same record of the car', async () => {
    const made = await inLine();
    expect((await patch(made.entryId, { runGroupId: event.novice })).body.clearance.status).toBe('in-line');
    expect((await patch(made.entryId, { vehicle: VEHICLE })).body.clearance.status).toBe('in-line');
  });

  test('a changed record of a shared car voids both entries, signed off or not', async () => {
    const first = await createTestEntry(t, event);
    const { carNumber } = first;
    expect((await accept(t, event, first)).status).toBe(201);
    const second = await inLine({ carNumber, runGroupId: event.advanced, vehicle: undefined });
    const third = await inLine();
    const changed = await patch(second.entryId, { vehicle: WITH_DRUMS });
    expect(changed.status).toBe(200);
    for (const { entryId } of [first, second]) {
      const seen = await read(entryId);
      expect(seen.body).toMatchObject({
        vehicle: { rotor: { rear: 'drum' } },
        clearance: { status: 'no-declaration' },
      });
      expect(seen.headers['etag']).toMatch(/\.2"$/);
      expect(await liveTickets(entryId)).toBe(0);
      expect((await actionsOf(t, entryId)).at(-1)).toBe('declaration.voided');
    }
    expect((await read(third.entryId)).body.clearance.status).toBe('in-line');
    expect((await gate(t, event, carNumber)).admit).toBe(false);
  });

  test('the record counts as long as the last event day lasts anywhere', async () => {
    const first = await createTestEntry(t, event);
    const second = await inLine({ carNumber: first.carNumber, runGroupId: event.advanced, vehicle: undefined });
    // Ten at night in UTC on the 15th is the 14th, the last event day, far enough west.
    await sql(t, `UPDATE venues SET time_zone = 'Pacific/Pago_Pago' WHERE id = $1`, [event.venueId]);
    t.clock.set('2026-06-15T10:00:00Z');
    await patch(first.entryId, { vehicle: WITH_DRUMS });
    expect((await read(second.entryId)).body.clearance.status).toBe('no-declaration');
    await sql(t, `UPDATE venues SET time_zone = 'Europe/Berlin' WHERE id = $1`, [event.venueId]);
    t.clock.set('2026-06-10T08:00:00Z');
  });

  test('two changes of one shared car through its two entries wait for each other', async () => {
    const first = await inLine();
    const second = await inLine({ carNumber: first.carNumber, runGroupId: event.advanced, vehicle: undefined });
    const answers = await Promise.all(
      Array.from({ length: 12 }, (_, i) =>
        patch((i % 2 === 0 ? first : second).entryId, { vehicle: { ...VEHICLE, massKg: 1000 + i } }, '*'),
      ),
    );
    expect(answers.map((answer) => answer.status)).toEqual(Array.from({ length: 12 }, () => 200));
    const [vehicle] = await sql<{ rev: number }>(
      t,
      `SELECT v.rev FROM vehicles v JOIN entries e ON e.vehicle_id = v.id WHERE e.id = $1`,
      [first.entryId],
    );
    expect(vehicle?.rev).toBe(13);
  });

  test('a withdrawn entry is not changed any more', async () => {
    const made = await createTestEntry(t, event);
    await t.api('organizer').post(`/v1/entries/${made.entryId}/withdraw`).expect(200);
    const answer = await patch(made.entryId, { people: [] });
    expect(answer.status).toBe(409);
    expect(answer.body).toMatchObject({ code: 'state-moved-on', currentState: 'withdrawn' });
  });
});
