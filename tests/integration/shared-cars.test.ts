import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { asText } from '../support/as-text.ts';
import {
  accept,
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

// One car in two run groups under one number: what is wrong with it is wrong in both.
let t: TestApp;
let event: TestEvent;
const RACE_DAY = '2026-06-13T09:00:00.000Z';

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());

interface Shared {
  novice: TestEntry;
  advanced: TestEntry;
}

let stickers = 0;
const sticker = () => ({ stickerNumber: `C${(stickers += 1)}` });

async function share(first: TestEntry): Promise<TestEntry> {
  return createTestEntry(t, event, { carNumber: first.carNumber, runGroupId: event.advanced, vehicle: undefined });
}

async function acceptedTwice(): Promise<Shared> {
  t.clock.set('2026-06-10T08:00:00.000Z');
  const novice = await createTestEntry(t, event);
  const advanced = await share(novice);
  expect((await accept(t, event, novice, sticker())).status).toBe(201);
  expect((await accept(t, event, advanced, sticker())).status).toBe(201);
  t.clock.set(RACE_DAY);
  return { novice, advanced };
}

const inGroup = (entry: TestEntry, runGroupId: string) => gate(t, event, entry.carNumber, `?runGroupId=${runGroupId}`);

const hold = (entry: TestEntry, body: object, as: Parameters<TestApp['api']>[0] = 'inspector') =>
  t.api(as).post(`/v1/entries/${entry.entryId}/holds`).send(body);

const lift = (holdId: string, body: object, as: Parameters<TestApp['api']>[0] = 'chief') =>
  t
    .api(as)
    .post(`/v1/holds/${holdId}/lift`)
    .send({ reason: 'looked at', ...body });

async function backOnLine(entry: TestEntry): Promise<void> {
  t.clock.set('2026-06-11T08:00:00.000Z');
  expect((await submit(t, entry)).status).toBe(201);
  t.clock.set(RACE_DAY);
}

describe('a hold about the car', () => {
  test('stops every entry of the car at once, says where it was placed, and its lift ends it everywhere', async () => {
    const { novice, advanced } = await acceptedTwice();
    expect((await inGroup(novice, event.advanced)).admit).toBe(true);
    const placed = await hold(advanced, { reason: 'oil leak', kind: 'leak' }).expect(201);
    expect(placed.body.alsoStopped).toEqual([
      { entryId: novice.entryId, carNumber: novice.carNumber, runGroup: 'Novice' },
    ]);
    expect(await inGroup(novice, event.novice)).toMatchObject({
      admit: false,
      status: 'held',
      reason: 'Held in Advanced: oil leak.',
    });
    expect(await inGroup(novice, event.advanced)).toMatchObject({ admit: false, reason: 'Held: oil leak.' });
    const list = await t.api('marshal').get(`/v1/events/${event.eventId}/gate`).expect(200);
    const rows = list.body.entries.filter((row: { carNumber: string }) => row.carNumber === novice.carNumber);
    expect(rows.map((row: { admit: boolean }) => row.admit)).toEqual([false, false]);
    const checks = ['engine.leaks', 'brake.lines', 'fuel.cap-and-lines'].map((item) => ({ item, result: 'ok' }));
    await lift(placed.body.holdId, { checks }).expect(200);
    expect((await gate(t, event, novice.carNumber)).admit).toBe(true);
  });

  test('stands against an entry that is added later', async () => {
    t.clock.set('2026-06-10T08:00:00.000Z');
    const novice = await createTestEntry(t, event);
    await hold(novice, { reason: 'loose seat' }).expect(201);
    const advanced = await share(novice);
    expect(await inGroup(advanced, event.advanced)).toMatchObject({
      status: 'held',
      reason: 'Held in Novice: loose seat.',
    });
  });

  test('about one entry alone leaves the other one alone', async () => {
    const { novice } = await acceptedTwice();
    await hold(novice, { reason: 'late payment', about: 'entry', kind: 'papers' }).expect(201);
    expect((await inGroup(novice, event.novice)).admit).toBe(false);
    expect((await inGroup(novice, event.advanced)).admit).toBe(true);
  });

  test('is lifted only when what its kind asks for was looked at, or by the exception of the chief', async () => {
    const { novice } = await acceptedTwice();
    const placed = await hold(novice, { reason: 'contact in session 2', kind: 'contact' }).expect(201);
    expect(placed.body.inspectAgain.map(({ item }: { item: string }) => item)).toContain('wheel.bent');
    const refused = await lift(placed.body.holdId, {}).expect(409);
    expect(refused.body.type).toContain('points-not-checked');
    const checks = placed.body.inspectAgain.map(({ item }: { item: string }) => ({ item, result: 'ok' }));
    const bad = [{ ...checks[0], result: 'not-ok' }, ...checks.slice(1)];
    await lift(placed.body.holdId, { checks: bad }).expect(409);
    await lift(placed.body.holdId, { checks }, 'inspector').expect(403);
    expect((await gate(t, event, novice.carNumber)).admit).toBe(false);
    const lifted = await lift(placed.body.holdId, { exception: 'seen by the two of us at the wall' }).expect(200);
    expect(lifted.body.liftException).toBe('seen by the two of us at the wall');
    expect((await gate(t, event, novice.carNumber)).admit).toBe(true);
  });

  test('sends the car through the line again in each of its groups when the lift says so', async () => {
    const { novice } = await acceptedTwice();
    const placed = await hold(novice, { reason: 'contact', kind: 'contact' }).expect(201);
    await lift(placed.body.holdId, { requireReinspection: true }).expect(200);
    for (const group of [event.novice, event.advanced]) {
      expect(await inGroup(novice, group)).toMatchObject({ admit: false, status: 'in-line' });
      const claimed = await t
        .api('inspector')
        .post(`/v1/events/${event.eventId}/line/claims`)
        .send({ carNumber: novice.carNumber, runGroupId: group });
      expect(claimed.status).toBe(201);
    }
  });

  test('may be placed by a marshal, who never lifts it', async () => {
    const { novice } = await acceptedTwice();
    const placed = await hold(novice, { reason: 'smoke', kind: 'smoke' }, 'marshal').expect(201);
    await lift(placed.body.holdId, { exception: 'no' }, 'marshal').expect(403);
  });

  test('with one key ten times at once is one hold', async () => {
    const { novice } = await acceptedTwice();
    const send = () =>
      t
        .api('marshal')
        .post(`/v1/entries/${novice.entryId}/holds`)
        .set('idempotency-key', `key-${novice.carNumber}`)
        .send({ reason: 'oil on the straight', kind: 'leak' });
    const answers = await Promise.all(Array.from({ length: 10 }, send));
    expect(new Set(answers.map(({ status }) => status))).toEqual(new Set([201]));
    expect(new Set(answers.map(({ body }) => body.holdId)).size).toBe(1);
    expect(answers.filter(({ headers }) => headers['idempotency-replayed'] === 'true')).toHaveLength(9);
    expect(await t.deps.db.prisma.hold.count({ where: { entryId: novice.entryId } })).toBe(1);
  });
});

describe("an entrant's own hold", () => {
  test('stops the own car once, a repeat is the same one, and an inspector lifts it', async () => {
    const { novice } = await acceptedTwice();
    const first = await hold(novice, { reason: 'I hit something', kind: 'contact' }, novice.entrant).expect(201);
    const again = await hold(novice, { reason: 'really', kind: 'contact' }, novice.entrant).expect(201);
    expect(again.body.holdId).toBe(first.body.holdId);
    expect((await gate(t, event, novice.carNumber)).admit).toBe(false);
    await lift(first.body.holdId, {}, novice.entrant).expect(403);
    const checks = first.body.inspectAgain.map(({ item }: { item: string }) => ({ item, result: 'ok' }));
    await lift(first.body.holdId, { checks }, 'inspector').expect(200);
    expect((await gate(t, event, novice.carNumber)).admit).toBe(true);
  });

  test("cannot be about another entry, a driver, or somebody else's car", async () => {
    const { novice, advanced } = await acceptedTwice();
    await hold(novice, { reason: 'x', about: 'entry' }, novice.entrant).expect(403);
    await hold(advanced, { reason: 'x' }, novice.entrant).expect(404);
  });
});

describe('a hold about a driver', () => {
  const driver = (name: string, personId?: string) => ({
    people: [{ name, role: 'driver', ...(personId === undefined ? {} : { personId }) }],
  });

  test('follows the id to every entry that names it, warns of a namesake, and holds nobody by name', async () => {
    t.clock.set('2026-06-10T08:00:00.000Z');
    const first = await createTestEntry(t, event, driver('Ada Brenner', 'L-77'));
    const second = await createTestEntry(t, event, driver('A. Brenner', 'L-77'));
    const namesake = await createTestEntry(t, event, driver('Ada Brenner'));
    await hold(first, { reason: 'x', about: 'driver', personId: 'L-78' }).expect(422);
    const body = { reason: 'overtook under yellow', about: 'driver', personId: 'L-77' };
    const placed = await hold(first, body).expect(201);
    expect(placed.body.alsoStopped.map(({ entryId }: { entryId: string }) => entryId)).toEqual([second.entryId]);
    expect(placed.body.warnings).toEqual([expect.stringContaining(`Car ${namesake.carNumber} in Novice`)]);
    expect((await gate(t, event, first.carNumber)).reason).toBe('Held: driver, overtook under yellow.');
    expect((await gate(t, event, second.carNumber)).status).toBe('held');
    expect((await gate(t, event, namesake.carNumber)).status).toBe('no-declaration');
    const later = await createTestEntry(t, event, driver('Ada B.', 'L-77'));
    expect((await gate(t, event, later.carNumber)).status).toBe('held');
    const { headers } = await t.api('organizer').get(`/v1/entries/${second.entryId}`).expect(200);
    const other = t
      .api('organizer')
      .patch(`/v1/entries/${second.entryId}`)
      .set('if-match', headers['etag'] ?? '');
    await other.send(driver('Bo Sanders', 'L-12')).expect(200);
    expect((await gate(t, event, second.carNumber)).status).toBe('no-declaration');
    await lift(placed.body.holdId, {}).expect(200);
    for (const one of [first, later]) expect((await gate(t, event, one.carNumber)).status).toBe('no-declaration');
  });
});

describe('what the line finds', () => {
  test('a refusal stops the other entry, which was accepted, until the line accepts the car again', async () => {
    const { novice, advanced } = await acceptedTwice();
    await backOnLine(advanced);
    const claimed = await claim(t, event, advanced.carNumber);
    expect(claimed.status).toBe(201);
    await signOff(t, claimed.body.claimId, { decision: 'refuse', note: 'brake hose chafed through' });
    expect(await inGroup(novice, event.novice)).toMatchObject({
      admit: false,
      status: 'refused',
      reason: 'Refused in Advanced at the tech line: brake hose chafed through.',
    });
    await backOnLine(advanced);
    expect((await inGroup(novice, event.novice)).admit).toBe(false);
    const second = await claim(t, event, advanced.carNumber);
    await signOff(t, second.body.claimId, { decision: 'accept', ...sticker() });
    expect((await inGroup(novice, event.novice)).admit).toBe(true);
    expect((await inGroup(novice, event.advanced)).admit).toBe(true);
  });

  test('a condition past due stops the other entry as well', async () => {
    const { novice, advanced } = await acceptedTwice();
    await backOnLine(advanced);
    const claimed = await claim(t, event, advanced.carNumber);
    const conditions = [{ text: 'torque again', dueAt: '2026-06-13T10:00:00.000Z' }];
    const signed = await signOff(t, claimed.body.claimId, {
      decision: 'accept-with-conditions',
      conditions,
      ...sticker(),
    });
    expect(signed.status).toBe(201);
    expect(await inGroup(novice, event.novice)).toMatchObject({ admit: true, status: 'clear-with-conditions' });
    t.clock.set('2026-06-13T10:00:00.000Z');
    expect(await inGroup(novice, event.novice)).toMatchObject({
      admit: false,
      status: 'held',
      reason: expect.stringContaining('Advanced: torque again'),
    });
    const { id } = signed.body.conditions[0];
    await t.api('inspector').post(`/v1/entries/${advanced.entryId}/conditions/${id}/done`).send({}).expect(200);
    expect((await inGroup(novice, event.novice)).admit).toBe(true);
  });
});

describe('another car under the same number', () => {
  test('has to be declared and looked at anew, and the sticker of the other one counts no more', async () => {
    const { novice, advanced } = await acceptedTwice();
    const before = await t.api('organizer').get(`/v1/entries/${novice.entryId}`).expect(200);
    await t
      .api('organizer')
      .patch(`/v1/entries/${novice.entryId}`)
      .set('if-match', before.headers['etag'] ?? '')
      .send({ newVehicle: { description: 'Saloon 2.5, 2009', body: 'closed', powertrain: 'combustion' } })
      .expect(200);
    for (const one of [novice, advanced]) {
      const after = await t.api('organizer').get(`/v1/entries/${one.entryId}`).expect(200);
      expect(after.body.vehicle.description).toBe('Saloon 2.5, 2009');
      expect(after.body.vehicleId).not.toBe(before.body.vehicleId);
      expect(after.body.clearance).toMatchObject({ admit: false, status: 'no-declaration' });
    }
    const { seq: _, ...list } = await snapshotOf();
    const listed = list.entries.find((entry: { carNumber: string }) => entry.carNumber === novice.carNumber);
    expect(listed.facts.car.voidStickers).toHaveLength(2);
  });

  test('takes no hold of the other car with it, and finds it again when that car comes back', async () => {
    const { novice } = await acceptedTwice();
    await hold(novice, { reason: 'bent wheel', kind: 'contact' }).expect(201);
    const change = async (body: object) => {
      const { headers } = await t.api('organizer').get(`/v1/entries/${novice.entryId}`).expect(200);
      const etag = headers['etag'] ?? '';
      return t.api('organizer').patch(`/v1/entries/${novice.entryId}`).set('if-match', etag).send(body).expect(200);
    };
    const { body } = await t.api('organizer').get(`/v1/entries/${novice.entryId}`).expect(200);
    await change({ newVehicle: { description: 'Spare car', body: 'closed', powertrain: 'combustion' } });
    expect(await gate(t, event, novice.carNumber)).toMatchObject({ status: 'no-declaration' });
    await change({ vehicleId: body.vehicleId });
    expect(await gate(t, event, novice.carNumber)).toMatchObject({ status: 'held' });
  });
});

async function snapshotOf() {
  const answer = await t
    .api('marshal')
    .get(`/v1/events/${event.eventId}/gate/snapshot`)
    .buffer()
    .parse(asText)
    .expect(200);
  const [, payload = ''] = String(answer.body).split('.');
  return JSON.parse(Buffer.from(payload, 'base64url').toString('utf8'));
}

test('the gate admits on the days of the event as it stands and on no other', async () => {
  const { novice } = await acceptedTwice();
  expect((await gate(t, event, novice.carNumber)).admit).toBe(true);
  await t.deps.db.prisma.event.update({
    where: { id: event.eventId },
    data: { startsOn: new Date('2026-06-20T00:00:00Z'), endsOn: new Date('2026-06-21T00:00:00Z') },
  });
  expect(await gate(t, event, novice.carNumber)).toMatchObject({ admit: false, status: 'expired' });
  await t.deps.db.prisma.event.update({
    where: { id: event.eventId },
    data: { startsOn: new Date('2026-06-13T00:00:00Z'), endsOn: new Date('2026-06-14T00:00:00Z') },
  });
});

describe('what was done at the car for one entry, at the line for its other', () => {
  const pad = (value: number) => ({ item: 'pad.thickness', position: 'FL.in', value: { value, unit: 'mm' } });
  const RADIATOR = { item: 'radiator.debris', result: 'ok' };
  const HELMET = { item: 'helmet.standard', result: 'ok' };
  const some = { ...GOOD_ANSWERS, 'radiator.debris': 'some' };

  /** Novice (pads of 4 mm) is signed off with these checks; then the other entry (6 mm) is claimed. */
  async function novicePasses(
    checks: object[],
    between: (cars: Shared) => Promise<unknown> = async () => undefined,
    as: 'inspector' | 'chief' = 'inspector',
  ) {
    t.clock.set('2026-06-10T08:00:00.000Z');
    const novice = await createTestEntry(t, event);
    const advanced = await share(novice);
    await submit(t, novice, some);
    const first = (await claim(t, event, novice.carNumber)).body.claimId;
    const signed = await signOff(t, first, { decision: 'accept', ...sticker(), checks });
    expect(signed.status).toBe(201);
    t.clock.set('2026-06-10T09:00:00.000Z');
    await between({ novice, advanced });
    expect((await submit(t, advanced, some)).status).toBe(201);
    const claimed = await claim(t, event, advanced.carNumber, as);
    expect(claimed.status).toBe(201);
    const points = claimed.body.pointsToCheck as { item: string; position?: string; doneFor?: object }[];
    const at = (item: string, position?: string) =>
      points.find((point) => point.item === item && point.position === position)?.doneFor;
    return { claim: claimed.body, at, signedOffId: signed.body.signOffId as string, advanced };
  }

  test('stands as done with who, when and for which group, and need not be done again; the driver is asked again', async () => {
    const { claim: open, at, signedOffId, advanced } = await novicePasses([RADIATOR, pad(7), HELMET]);
    const by = { runGroup: 'Novice', by: 'Test inspector', at: '2026-06-10T08:00:00.000Z' };
    expect(at('radiator.debris')).toEqual({ ...by, result: 'ok', counts: true });
    expect(at('pad.thickness', 'FL.in')).toEqual({ ...by, value: { value: 7, unit: 'mm' }, counts: true });
    expect(at('pad.thickness', 'FL.out')).toBeUndefined();
    expect(at('helmet.standard')).toBeUndefined();
    const accepted = await signOff(t, open.claimId, { decision: 'accept', ...sticker(), checks: [] });
    expect(accepted.status).toBe(201);
    const history = await t.api('chief').get(`/v1/entries/${advanced.entryId}/history`).expect(200);
    const told = (history.body.history as { action: string; data: object }[]).find(
      ({ action }) => action === 'entry.signed-off',
    );
    expect(told?.data).toMatchObject({ from: [signedOffId] });
  });

  test('counts from nobody who may be named on the other entry', async () => {
    const { at } = await novicePasses(
      [RADIATOR],
      async ({ advanced }) => {
        // U+0456 of UTS 39, confusables.txt
        const people = [{ name: 'Test \u0456nspector', role: 'crew' }];
        const { headers } = await t.api('organizer').get(`/v1/entries/${advanced.entryId}`);
        const patch = t
          .api('organizer')
          .patch(`/v1/entries/${advanced.entryId}`)
          .set('if-match', headers['etag'] ?? '');
        await patch.send({ people }).expect(200);
      },
      'chief',
    );
    expect(at('radiator.debris')).toBeUndefined();
  });

  test('a value that meets the looser group and not the stricter one is open, and bars until it is measured anew', async () => {
    const { claim: open, at } = await novicePasses([RADIATOR, pad(5)]);
    expect(at('pad.thickness', 'FL.in')).toMatchObject({ value: { value: 5 }, counts: false });
    expect(open.verdict).toBe('barred');
    const refused = await signOff(t, open.claimId, { decision: 'accept', ...sticker(), checks: [] });
    expect(refused.body).toMatchObject({ code: 'bar-stands' });
    const fresh = { decision: 'accept', ...sticker(), checks: [pad(9)] };
    expect((await signOff(t, open.claimId, fresh)).status).toBe(201);
  });

  test.each<[string, (cars: Shared) => Promise<unknown>]>([
    [
      'another car under the number',
      async ({ novice }) => {
        const swap = { newVehicle: { description: 'Another car' } };
        return t.api('organizer').patch(`/v1/entries/${novice.entryId}`).set('if-match', '*').send(swap).expect(200);
      },
    ],
    [
      'a hold that asks for the point',
      async ({ novice }) => {
        const held = await hold(novice, { reason: 'leak', kind: 'leak' }).expect(201);
        await lift(held.body.holdId, { exception: 'seen by the chief' }).expect(200);
      },
    ],
    [
      'going back to the line',
      async ({ novice }) =>
        t.api('inspector').post(`/v1/entries/${novice.entryId}/back-to-line`).send({ reason: 'again' }).expect(200),
    ],
  ])('nothing counts from before %s', async (_what, between) => {
    const checks = [RADIATOR, { item: 'engine.leaks', position: 'coolant', result: 'ok' }];
    const { at } = await novicePasses(checks, between);
    expect(at('engine.leaks', 'coolant')).toBeUndefined();
  });

  test('nothing counts by an inspector who drives the car in the other group', async () => {
    const named = async ({ advanced }: Shared) => {
      const people = [{ name: 'Test inspector', role: 'driver' }];
      const path = `/v1/entries/${advanced.entryId}`;
      await t.api('organizer').patch(path).set('if-match', '*').send({ people }).expect(200);
    };
    const { at } = await novicePasses([RADIATOR], named, 'chief');
    expect(at('radiator.debris')).toBeUndefined();
  });
});
