import { POSITION_KEYS } from '../../src/domain/catalogue/item.ts';
import type { Result } from '../../src/domain/rules/model/finding.ts';
import { brakeDuty } from '../../src/domain/trade/brakes/brake-heat-duty.ts';
import type { ExampleCase, Setting } from './example-case.ts';

type Cases = Readonly<Record<string, readonly ExampleCase[]>>;

const one = (shows: string, result: Result | 'absent', setting: Setting = {}): ExampleCase => ({
  shows,
  result,
  ...setting,
});
const wheels = (value: unknown, FL: unknown = value) => ({
  ...Object.fromEntries(POSITION_KEYS.wheel.map((wheel) => [wheel, value])),
  FL,
});
const set = (name: string, value: boolean | number, unit?: string) => ({
  parameters: { [name]: { value, ...(unit !== undefined && { unit }) } },
});

const grade = (text: string): Setting => ({ answers: { 'oil.grade': text } });
const ENGINE: Cases = {
  'oil-grade-hot': [
    one('15W-40 where 40 is asked for', 'met', grade('15W-40')),
    one('10W-60', 'met', grade('10W-60')),
    one('5W-30', 'not-met', grade('5W-30')),
    one('a winter grade alone has no hot side', 'unanswerable', grade('10W')),
  ],
};

const zones = (count: number, fromKmh: number, toKmh: number) =>
  Array.from({ length: count }, () => ({ fromKmh, toKmh }));
/** Four hard stops a lap, and one from 120 to 90 km/h in a longer one. */
const HARD = { brakingZones: zones(4, 210, 80), lapLengthM: 3400, designAirTemperatureC: 28 };
const EASY = { brakingZones: zones(1, 120, 90), lapLengthM: 3400, designAirTemperatureC: 28 };
const CAR = { massKg: 1320 };
/** What the estimate asks of this car at the hard venue: the rules are tried on both sides of it, whatever it is. */
const NEEDS = brakeDuty(HARD, CAR);
if (NEEDS === undefined) throw new Error('the hard venue must be one that can be reckoned with');
const { front: padFront, rear: padRear } = NEEDS.ranges.padC;
/** the favourable end, and what the estimate says */
const LOW = [Math.round(padFront.low), Math.round(padRear.low)] as const;
const MIDDLE = [
  Math.round(NEEDS.padHighTemperatureNeededC.front),
  Math.round(NEEDS.padHighTemperatureNeededC.rear),
] as const;

const pads = (front: number, rear: number, more: Setting = {}): Setting => ({
  vehicle: CAR,
  venue: HARD,
  ...more,
  answers: { 'pad.temperature-range': { front: { low: 50, high: front }, rear: { low: 50, high: rear } } },
});

/** On both sides of what the venue asks for at each axle, with and without a margin of the group. */
function padRangeCases([front, rear]: readonly [number, number], group: Setting): ExampleCase[] {
  const margin = { parameters: { ...group.parameters, padTemperatureMargin: { value: 5, unit: 'K' } } };
  return [
    one('just what the venue asks for', 'met', pads(front, rear, group)),
    { ...one('1 °C less at the front', 'not-met', pads(front - 1, rear, group)), at: { rear: 'met' } },
    { ...one('1 °C less at the rear', 'not-met', pads(front, rear - 1, group)), at: { front: 'met' } },
    one('5 K more, as the group asks', 'met', pads(front + 5, rear + 5, margin)),
    one('5 K more asked for, 4 K there', 'not-met', pads(front + 4, rear + 4, margin)),
    one('the venue states no braking zones', 'absent', pads(100, 100, { ...group, venue: {} })),
    one('the mass of the car is not known', 'absent', pads(100, 100, { ...group, vehicle: {} })),
  ];
}
const BINDING = set('padTemperatureIsBinding', true);
const ADVISED = set('padTemperatureIsBinding', false);

/** Two events before, of one day each: 0.5 mm a day on the pad `FL.in`. */
const EARLIER = [
  { startsOn: '2026-03-07', endsOn: '2026-03-07', daysBefore: 0, daysAfter: 1, padThicknessMm: { 'FL.in': 4 } },
  { startsOn: '2026-04-11', endsOn: '2026-04-11', daysBefore: 0, daysAfter: 1, padThicknessMm: { 'FL.in': 3.5 } },
] as const satisfies Setting['earlier'];
const pad = (mm: number | null, earlier: Setting['earlier'] = [...EARLIER]): Setting => ({
  earlier,
  answers: { 'pad.thickness': { 'FL.in': mm } },
});
const atPad = (shows: string, result: Result | 'absent', setting: Setting): ExampleCase => ({
  ...one(shows, result, setting),
  at: { 'FL.in': result, 'FL.out': 'absent' },
});

const fourPads = (given: Readonly<Record<string, number>>): Setting => ({
  answers: { 'pad.thickness': { 'FL.in': 9, 'FL.out': 9, 'FR.in': 9, 'FR.out': 9, ...given } },
});
const atFront = (shows: string, result: Result, setting: Setting): ExampleCase => ({
  ...one(shows, result, setting),
  at: { front: result },
});
/** Left and right are compared place by place: inner with inner, outer with outer. The rear pads are not measured. */
const padsApart = (limit: number): ExampleCase[] => {
  const rear = { 'RL.in': 9, 'RL.out': 9, 'RR.in': 9, 'RR.out': 9 };
  return [
    atFront(`inner pads ${limit} mm apart`, 'met', fourPads({ ...rear, 'FL.in': 9 + limit })),
    atFront(`inner pads ${limit}.1 mm apart`, 'not-met', fourPads({ ...rear, 'FL.in': 9.1 + limit })),
    atFront('right outer pad the thinner', 'not-met', fourPads({ ...rear, 'FR.out': 8.9 - limit })),
    atFront('inner and outer differ, left and right do not', 'met', fourPads({ ...rear, 'FL.in': 20, 'FR.in': 20 })),
    one('a group that asks the lowest only, and no more was given', 'absent', {
      ...set('lowestIsEnough', true),
      vehicle: CAR,
      answers: { 'pad.thickness': { front: { basis: 'lowest-of-axle', value: 9 } } },
    }),
    one('one pad of the axle not measured', 'unanswerable', fourPads({ 'RL.in': 9, 'RL.out': 9, 'RR.in': 9 })),
  ];
};

const uneven = (pads: Record<string, unknown>, alike = false): Setting => ({
  ...set('lowestIsEnough', true),
  vehicle: { ...CAR, rotor: { front: 'iron', rear: 'drum' } },
  answers: { 'pad.even': { front: alike }, 'pad.thickness': pads },
});

const cracks = (found: string, more: Setting): Setting => ({
  vehicle: CAR,
  ...more,
  answers: { 'rotor.cracks': wheels('none', found) },
});
const duty = (heavy: boolean, venue: Setting['venue']): Setting => ({ ...set('heavyBrakeDuty', heavy), venue });

const BRAKES: Cases = {
  'pad-range-for-venue-advised': padRangeCases(MIDDLE, ADVISED),
  'pad-range-for-venue': [
    ...padRangeCases(LOW, BINDING),
    one('a group that only looks at it: another rule', 'absent', pads(100, 100, ADVISED)),
  ],
  'pad-range-far-below': [
    one('the favourable end of the estimate', 'met', pads(...LOW, ADVISED)),
    { ...one('1 °C less at the front', 'not-met', pads(LOW[0] - 1, LOW[1], ADVISED)), at: { rear: 'met' } },
    { ...one('1 °C less at the rear', 'not-met', pads(LOW[0], LOW[1] - 1, ADVISED)), at: { front: 'met' } },
    one('a group that bars it: another rule', 'absent', pads(100, 100, BINDING)),
    one('the venue states no braking zones', 'absent', pads(100, 100, { ...ADVISED, venue: {} })),
  ],
  'pad-axle-even': padsApart(3),
  'pad-axle-one-sided': padsApart(5),
  'pad-uneven-measured': [
    one(
      'said to be unlike, and each of them measured',
      'met',
      uneven({ 'FL.in': 9, 'FL.out': 9, 'FR.in': 9, 'FR.out': 7 }),
    ),
    one(
      'said to be unlike, and only the lowest given',
      'not-met',
      uneven({ front: { basis: 'lowest-of-axle', value: 9 } }),
    ),
    one('said to be unlike, and one of them not measured', 'not-met', uneven({ 'FL.in': 9, 'FL.out': 9, 'FR.in': 9 })),
    one('said to be alike', 'absent', uneven({ front: { basis: 'lowest-of-axle', value: 9 } }, true)),
    one('a group that asks each place', 'absent', { ...uneven({ 'FL.in': 9 }), ...set('lowestIsEnough', false) }),
  ],
  'pad-lasts-event': [
    // 0.5 mm a day, two days to come
    atPad('3 mm now, 2 mm at the end', 'met', pad(3)),
    // 3.5 to 2.9 mm in the last day is 0.6 mm a day
    atPad('2.9 mm now, 1.7 mm at the end', 'not-met', pad(2.9)),
    atPad('new pads: nothing is known of their wear', 'absent', pad(9)),
    atPad('no earlier event', 'absent', pad(2.1, [])),
    atPad('not measured now', 'absent', pad(null)),
  ],
  'rotor-surface-checks': [
    one('easy venue', 'not-met', cracks('surface-checks', duty(false, EASY))),
    one('heavy venue: another rule judges', 'absent', cracks('surface-checks', duty(false, HARD))),
    one('heavy group at an easy venue: another rule judges', 'absent', cracks('surface-checks', duty(true, EASY))),
    one('heavy group at a heavy venue: another rule judges', 'absent', cracks('surface-checks', duty(true, HARD))),
  ],
  'rotor-surface-checks-heavy-duty': [
    one('heavy venue', 'not-met', cracks('surface-checks', duty(false, HARD))),
    one('heavy group at an easy venue', 'not-met', cracks('surface-checks', duty(true, EASY))),
    one('easy venue: another rule judges', 'absent', cracks('surface-checks', duty(false, EASY))),
  ],
};

/** (200 kPa + 101.325 kPa)·348.15 K/301.15 K − 101.325 kPa = 247 kPa */
const hot = (
  kPa: number | null,
  cold: number | null,
  more: Setting = { venue: { designAirTemperatureC: 28 } },
): Setting => ({
  ...more,
  answers: { 'tyre.hot-pressure': wheels(247, kPa), 'tyre.cold-pressure': wheels(200, cold) },
});

const TYRES: Cases = {
  'tyre-hot-pressure-forecast': [
    one('30 kPa above the forecast', 'met', hot(277, 200)),
    one('31 kPa above the forecast', 'not-met', hot(278, 200)),
    one('31 kPa below the forecast', 'not-met', hot(216, 200)),
    one('before the first session', 'absent', { venue: { designAirTemperatureC: 28 } }),
    one('the venue states no air temperature', 'absent', hot(400, 200, {})),
    { ...one('no cold pressure at one wheel', 'met', hot(400, null)), at: { FL: 'absent', FR: 'met' } },
    { ...one('no hot pressure at one wheel', 'met', hot(null, 200)), at: { FL: 'absent', FR: 'met' } },
  ],
};

const helmet = (standard: string, madeOn = '2016-05-01'): Setting => ({
  answers: { 'helmet.standard': standard, 'helmet.made-on': madeOn },
});
const PEOPLE: Cases = {
  'helmet-standard-age': [
    one('Snell SA2020, to the end of 2030', 'met', helmet('Snell SA2020')),
    one('Snell SA2015, ended with 2025', 'not-met', helmet('Snell SA2015')),
    one('Snell SA2015 on its last day', 'met', {
      ...helmet('Snell SA2015'),
      event: { startsOn: '2025-12-31', endsOn: '2025-12-31' },
    }),
    one('FIA 8859-2015 has no end', 'met', helmet('FIA 8859-2015')),
    one('a standard of which no end is known', 'absent', helmet('ECE 22.06')),
    one('date not answered', 'absent', { answers: { 'helmet.standard': 'Snell SA2015' } }),
  ],
};

/** Cases of the rules that read derived facts. */
export const FACT_CASES: Cases = { ...ENGINE, ...BRAKES, ...TYRES, ...PEOPLE };
