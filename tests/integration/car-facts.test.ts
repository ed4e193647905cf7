import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
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
