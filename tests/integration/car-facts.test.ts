import { afterAll, beforeAll, describe, expect, onTestFinished, test } from 'vitest';
import { startTestApp, TEST_NOW, type TestApp, type TestToken } from '../support/app.ts';
import {
  claim,
  createTestEntry,
  createTestEvent,
  gate,
  GOOD_ANSWERS,
  signOff,
  SMALL_RULE_SET,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';

const ROTOR_RULE = {
  id: 'rotor-thickness',
  title: 'Brake rotor thickness',
  items: ['rotor.thickness'],
  test: { kind: 'limit', item: 'rotor.thickness', atLeast: { vehicle: 'rotorMinimumThicknessMm' } },
  effect: 'bar',
  message: 'The rotor is thinner than its stamp.',
  fix: 'Fit new rotors on both sides of the axle.',
  basis: { kind: 'common-practice' },
};
const RULES = { ...SMALL_RULE_SET, name: 'Rotors too', rules: [...SMALL_RULE_SET.rules, ROTOR_RULE] };
const CAR = {
  description: 'Hatchback 1.6, 2009',
  body: 'closed',
  powertrain: 'combustion',
  rotor: { front: 'iron', rear: 'drum' },
  rotorMinimumThicknessMm: { FL: 20.4, FR: 20.4 },
};
const ANSWERS = { ...GOOD_ANSWERS, 'pad.thickness': onFront(8), 'rotor.thickness': { FL: 22.1, FR: 22.2 } };

function onFront(mm: number) {
  return { 'FL.in': mm, 'FL.out': mm, 'FR.in': mm, 'FR.out': mm };
}

let t: TestApp;
let event: TestEvent;
beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t, RULES);
});
afterAll(() => t.close());

const read = async (entry: TestEntry) =>
  (await t.api('organizer').get(`/v1/entries/${entry.entryId}`).expect(200)).body;

async function change(entry: TestEntry, vehicle: object) {
  const api = t.api('organizer');
  const { headers } = await api.get(`/v1/entries/${entry.entryId}`).expect(200);
  return api
    .patch(`/v1/entries/${entry.entryId}`)
    .set('if-match', headers['etag'] ?? '')
    .send({ vehicle })
    .expect(200);
}

async function claimed(entry: TestEntry) {
  const { body, status } = await claim(t, event, entry.carNumber);
  expect(status, JSON.stringify(body)).toBe(201);
  return body as { claimId: string; pointsToCheck: { item: string; position?: string; needsValue?: true }[] };
}

describe('a number that such cars do not have', () => {
  test('asks the line, is read there, and is the car’s from then on', async () => {
    const entry = await createTestEntry(t, event, { vehicle: { ...CAR, rotorMinimumThicknessMm: { FL: 60, FR: 60 } } });
    const submitted = await submit(t, entry, ANSWERS);
    expect(submitted.body.verdict).toBe('to-inspect');
    const finding = submitted.body.findings.find((one: { ruleId: string }) => one.ruleId === 'rotor-thickness');
    expect(finding).toMatchObject({
      counts: 'inspect',
      facts: [{ path: 'rotorMinimumThicknessMm.FL', why: 'unconfirmed' }],
    });
    const { claimId, pointsToCheck } = await claimed(entry);
    const ofCar = pointsToCheck.filter(({ item }) => item.startsWith('car.'));
    expect(ofCar).toMatchObject([{ item: 'car.rotorMinimumThicknessMm', position: 'FL', needsValue: true }]);

    const accept = { decision: 'accept', stickerNumber: `S${entry.carNumber}` };
    const stamp = { item: 'car.rotorMinimumThicknessMm', position: 'FL' };
    const ticked = await signOff(t, claimId, { ...accept, checks: [{ ...stamp, result: 'ok' }] });
    expect(ticked.body.code).toBe('points-not-checked');
    const tooThin = await signOff(t, claimId, { ...accept, checks: [{ ...stamp, value: 22.15 }] });
    expect(tooThin.body.code).toBe('bar-stands');
    const good = await signOff(t, claimId, { ...accept, checks: [{ ...stamp, value: 20.4 }] });
    expect(good.status, JSON.stringify(good.body)).toBe(201);
    expect((await gate(t, event, entry.carNumber)).reason).not.toContain('Barred');

    expect((await read(entry)).vehicle.rotorMinimumThicknessMm).toEqual({ FL: 20.4, FR: 20.4 });
    const { vehicleId } = await read(entry);
    const row = await t.deps.db.prisma.vehicle.findUniqueOrThrow({ where: { id: vehicleId } });
    expect(row.origins).toMatchObject({ 'rotorMinimumThicknessMm.FR': { origin: 'confirmed', by: { as: 'staff' } } });
    // a later event finds nothing to ask
    const next = await createTestEvent(t, RULES);
    const again = await createTestEntry(t, next, { vehicle: undefined, vehicleId });
    expect((await submit(t, again, ANSWERS)).body.verdict).toBe('clean');
  });
});

describe('a change of the car', () => {
  test('sends it back only where a rule used what changed', async () => {
    const entry = await createTestEntry(t, event, { vehicle: CAR });
    expect((await submit(t, entry, ANSWERS)).body.verdict).toBe('clean');
    await change(entry, { ...CAR, colour: 'red', topSpeedKmh: 190 });
    expect((await gate(t, event, entry.carNumber)).status).toBe('in-line');
    await change(entry, { ...CAR, colour: 'red', rotorMinimumThicknessMm: { FL: 20.4, FR: 21 } });
    expect((await gate(t, event, entry.carNumber)).status).toBe('no-declaration');
  });
});

describe('the owner of a car', () => {
  const facts = (as: TestToken, vehicleId: string, sent: object[]) =>
    t.api(as).patch(`/v1/vehicles/${vehicleId}/facts`).send({ facts: sent });
  const STAMPS = ['FL', 'FR'].map((wheel) => ({
    path: `rotorMinimumThicknessMm.${wheel}`,
    value: 20.4,
    origin: 'stamped',
  }));

  async function bareCar() {
    const entry = await createTestEntry(t, event, { vehicle: { description: 'Hatchback' } });
    return { entry, vehicleId: (await read(entry)).vehicleId as string };
  }

  test('fills its record as entrant and is never barred for what he wrote; the line reads it once', async () => {
    const { entry, vehicleId } = await bareCar();
    const { rotorMinimumThicknessMm: _, rotor: __, ...plain } = CAR;
    const sent = [
      ...Object.entries(plain).map(([path, value]) => ({ path, value })),
      { path: 'rotor.front', value: 'iron' },
      { path: 'rotor.rear', value: 'drum' },
    ];
    await facts(entry.entrant, vehicleId, sent).expect(200);
    const { body } = await facts(entry.entrant, vehicleId, STAMPS).expect(200);
    expect(body.facts.at(-1)).toMatchObject({ origin: 'stamped', isConfirmed: false, by: { as: 'owner' } });
    const submitted = await submit(t, entry, { ...ANSWERS, 'rotor.thickness': { FL: 20.1, FR: 20.1 } });
    expect(submitted.body.verdict).toBe('to-inspect');
    const { claimId, pointsToCheck } = await claimed(entry);
    const ofCar = pointsToCheck.filter(({ item }) => item.startsWith('car.')).map(({ item }) => item);
    expect(ofCar).toEqual(['car.as-described', 'car.rotorMinimumThicknessMm']);
    const checks = [{ item: 'car.rotorMinimumThicknessMm', position: 'FL', value: 19.4 }];
    const body2 = { decision: 'accept', stickerNumber: `S${entry.carNumber}`, checks };
    expect((await signOff(t, claimId, body2)).body.code).toBe('points-not-checked');
    const all = { ...body2, checks: [...checks, { item: 'car.as-described', result: 'ok' }] };
    const good = await signOff(t, claimId, all);
    expect(good.status, JSON.stringify(good.body)).toBe(201);
    const after = await t.api('inspector').get(`/v1/vehicles/${vehicleId}/facts`).expect(200);
    expect(after.body.facts.every((fact: { isConfirmed: boolean }) => fact.isConfirmed)).toBe(true);
  });

  test('is asked again about an unusual number, and told where a fact is none', async () => {
    const { entry, vehicleId } = await bareCar();
    const odd = { path: 'wheelNutTorqueNm', value: 1100 };
    const { body } = await facts(entry.entrant, vehicleId, [odd]).expect(422);
    expect(body.errors).toMatchObject([{ pointer: '/facts/0/value', code: 'implausible' }]);
    await facts(entry.entrant, vehicleId, [{ ...odd, again: true }]).expect(200);
    const unknown = await facts(entry.entrant, vehicleId, [
      { path: 'colour', value: 'red' },
      { path: 'wings', value: 2 },
    ]).expect(422);
    expect(unknown.body.errors).toMatchObject([{ pointer: '/facts/1/path', code: 'unknown-fact' }]);
    expect((await read(entry)).vehicle.colour).toBeUndefined();
  });

  test('has a link across events that ends when the car is sold, and reaches no other car', async () => {
    const { entry, vehicleId } = await bareCar();
    const links = `/v1/vehicles/${vehicleId}/links`;
    await t.api(entry.entrant).post(links).send({ holder: 'Somebody else' }).expect(422);
    const first = await t.api(entry.entrant).post(links).send({ holder: entry.entrant.holder }).expect(201);
    const owner: TestToken = { ...first.body, role: 'owner' };
    await facts(owner, vehicleId, [{ path: 'massKg', value: 1180 }]).expect(200);
    const { vehicleId: other } = await bareCar();
    await facts(owner, other, [{ path: 'massKg', value: 1180 }]).expect(404);
    await t.api(owner).get(`/v1/entries/${entry.entryId}`).expect(403);
    const sold = await t.api(owner).post(links).send({ holder: 'Tor Berg', sold: true }).expect(201);
    await t.api(owner).get(`/v1/vehicles/${vehicleId}/facts`).expect(401);
    const heir: TestToken = { ...sold.body, role: 'owner' };
    const seen = await t.api(heir).get(`/v1/vehicles/${vehicleId}/facts`).expect(200);
    // what the car is goes with it; who said it before does not
    expect(JSON.stringify(seen.body)).not.toContain(entry.entrant.holder);
    expect((await t.api(heir).get(links).expect(200)).body.links).toHaveLength(1);
    expect((await t.api(heir).delete(links).expect(200)).body).toEqual({ ended: 1 });
    await t.api(heir).get(links).expect(401);
  });

  test('is confirmed by an inspector who has the car before him, and by the office', async () => {
    const { entry, vehicleId } = await bareCar();
    await facts(entry.entrant, vehicleId, STAMPS).expect(200);
    const inspector = await t.mint('inspector');
    await facts(inspector, vehicleId, STAMPS).expect(403);
    const { body } = await t
      .api('organizer')
      .patch(`/v1/vehicles/${vehicleId}/facts`)
      .send({ facts: STAMPS })
      .expect(200);
    expect(body.facts.at(-1)).toMatchObject({ origin: 'confirmed', isConfirmed: true });
    // saying the same once more takes nothing back
    const again = await facts(entry.entrant, vehicleId, STAMPS).expect(200);
    expect(again.body.facts.at(-1)).toMatchObject({ origin: 'confirmed' });
  });

  test('is forgotten with the person, and the car keeps what it is', async () => {
    const { entry, vehicleId } = await bareCar();
    await facts(entry.entrant, vehicleId, STAMPS).expect(200);
    const holder = `Entrant of ${entry.carNumber}`;
    const made = await t.api('organizer').post(`/v1/vehicles/${vehicleId}/links`).send({ holder }).expect(201);
    // people are erased once the event is over
    t.clock.set('2026-06-20T08:00:00.000Z');
    onTestFinished(() => t.clock.set(TEST_NOW));
    await t.api('organizer').post(`/v1/entries/${entry.entryId}/erase`).send({ reason: 'asked for' }).expect(200);
    const row = await t.deps.db.prisma.vehicle.findUniqueOrThrow({ where: { id: vehicleId } });
    expect(JSON.stringify(row.origins)).not.toContain(holder);
    expect(row.record).toMatchObject({ rotorMinimumThicknessMm: { FL: 20.4 } });
    await t
      .api({ ...made.body, role: 'owner' })
      .get(`/v1/vehicles/${vehicleId}/facts`)
      .expect(401);
  });
});
