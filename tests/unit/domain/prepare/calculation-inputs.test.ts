import { expect, test } from 'vitest';
import { parseAnswers } from '../../../../src/domain/declaration/declaration.ts';
import { calculationInputs } from '../../../../src/domain/prepare/calculation-inputs.ts';
import type { KnownCar } from '../../../../src/domain/prepare/known-brakes.ts';
import { CALCULATIONS } from '../../../../src/domain/trade/calculations.ts';

const each = <T>(value: T) => ({ FL: value, FR: value, RL: value, RR: value });
const pads = Object.fromEntries(
  ['FL', 'FR', 'RL', 'RR'].flatMap((w) => [
    [`${w}.in`, 7.5],
    [`${w}.out`, 7.8],
  ]),
);
const parsed = parseAnswers({
  'pad.thickness': pads,
  'rotor.thickness': each(23.4),
  'rotor.cracks': each('none'),
  'tyre.date-code': each('2324'),
  'tyre.cold-pressure': each(190),
  'tyre.rating': each('91W'),
  'brake-fluid.class': 'DOT 4',
  'brake-fluid.dry-boiling-point': 270,
  'brake-fluid.wet-boiling-point': 190,
  'brake-fluid.flushed-on': '2026-03-01',
  'oil.grade': '5W-40',
  'oil.level.reading': 0.6,
  'oil.level.at-operating-temperature': true,
  'oil.level.minutes-since-shutdown': 7,
  'coolant.type': 'ethylene-glycol-mix',
  'coolant.cap-pressure': 110,
  'damper.serviced-on': '2025-02-01',
  'helmet.standard': 'Snell SA2020',
  'helmet.made-on': '2021-04-01',
  'wheel-play.nine-three': each({ felt: 'none' }),
  'wheel-play.twelve-six': { ...each({ felt: 'none' }), RL: { felt: 'felt' } },
  'steering.free-play': { play: 12, wheelDiameter: 370 },
  'debrief.symptoms': ['vibration'],
  'setup.corner-weights': each(310),
  'setup.alignment': each({ camber: -2, toe: 0.5 }),
  'wheel.stud-engagement': { turns: 9 },
  'exhaust.sound-level': { level: 92, distance: 15, method: 'static' },
  'rollover.clearance': { hoopTopX: 0, hoopTopZ: 1200, frontX: 1000, frontZ: 1100, helmetTopX: 250, helmetTopZ: 1080 },
});
const car: KnownCar = {
  vehicle: {
    description: 'Coupé 2.0, 2012',
    massKg: 1310,
    axleLoadKg: { front: 690, rear: 620 },
    rotor: { front: 'iron', rear: 'iron' },
    rotorMinimumThicknessMm: each(22),
    topSpeedKmh: 235,
    wheelNutTorqueNm: 110,
    wheelStudDiameterMm: 12,
    wheelThreadPitchMm: 1.5,
    highVoltageV: 400,
    baseline: { camberDeg: each(-2), toeMm: each(0.5) },
  },
  venue: {
    brakingZones: [{ fromKmh: 210, toKmh: 80 }],
    lapLengthM: 3400,
    designAirTemperatureC: 25,
    topSpeedKmh: 220,
    soundLimitDb: 95,
    soundDistanceM: 15,
  },
  event: { startsOn: '2026-06-13', endsOn: '2026-06-14' },
  answers: parsed.ok ? parsed.answers : new Map(),
  sessions: { toCome: 6, perDay: 4 },
  earlier: [
    {
      startsOn: '2026-05-09',
      endsOn: '2026-05-10',
      daysBefore: 0,
      daysAfter: 2,
      padThicknessMm: { 'FL.in': 9.5 },
    },
  ],
};

const at = (value: unknown, path: readonly PropertyKey[]): unknown =>
  path.reduce<unknown>((part, key) => (part as Record<PropertyKey, unknown> | undefined)?.[key], value);

/** Computations of which a car says nothing: what they ask stands in no declaration. */
const FROM_ELSEWHERE = [
  'stop-distance',
  'treadwear-grade',
  'gear-oil-grade',
  'coolant-mix',
  'suit-protection',
  'cg-height',
  'sound-average',
  'line-staffing',
];

test('the answers of this test are read', () => {
  expect(parsed.ok ? [] : parsed.faults).toEqual([]);
});

test('every computation is begun with what is known of a car, and only in places that it has', () => {
  const inputs = calculationInputs(car);
  const missing = CALCULATIONS.map(({ name }) => name).filter((name) => inputs[name] === undefined);
  expect(missing).toEqual(FROM_ELSEWHERE);
  for (const { name, input } of CALCULATIONS) {
    if (inputs[name] === undefined) continue;
    // what is not known may be missing; nothing may be wrong
    const issues = input.safeParse(inputs[name]).error?.issues ?? [];
    const wrong = issues.filter(
      ({ code, path }) => code === 'unrecognized_keys' || at(inputs[name], path) !== undefined,
    );
    expect(wrong, name).toEqual([]);
  }
});

test('readings of a pad are counted in sessions, from the set that is on the car', () => {
  const { parts } = calculationInputs(car)['last-safe-session'] as { parts: { name: string; readings: object[] }[] };
  expect(parts.find(({ name }) => name === 'FL.in')?.readings).toEqual([
    { sessions: 0, thicknessMm: 9.5 },
    { sessions: 8, thicknessMm: 7.5 },
  ]);
  // one of each axle, the thinnest: the others last longer
  expect(parts.map(({ name }) => name)).toEqual(['FL.in', 'RL.in']);
});

test('the lower of two top speeds counts, and the front share is that of the loads', () => {
  const inputs = calculationInputs(car);
  expect(inputs['tyre-rating']).toMatchObject({ topSpeedKmh: 220, axleLoadKg: 690 });
  expect(inputs['brake-heat']?.['frontWeightShare']).toBe(0.527);
});

test('of a car of which nothing is known nothing is filled in', () => {
  expect(calculationInputs({ vehicle: { description: 'Coupé' } })).toEqual({});
});
