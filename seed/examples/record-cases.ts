import { POSITION_KEYS } from '../../src/domain/catalogue/item.ts';
import type { RawAnswers } from '../../src/domain/declaration/declaration.ts';
import type { Result } from '../../src/domain/rules/model/finding.ts';
import type { ExampleCase, Setting } from './example-case.ts';
import { FACT_CASES } from './fact-cases.ts';

type Cases = Readonly<Record<string, readonly ExampleCase[]>>;

const one = (shows: string, result: Result | 'absent', setting: Setting = {}): ExampleCase => ({
  shows,
  result,
  ...setting,
});
const wheels = <T>(value: T) => Object.fromEntries(POSITION_KEYS.wheel.map((wheel) => [wheel, value]));

const VENUE = { soundLimitDb: 92, soundDistanceM: 20 };
const sound = (level: number, distance: number, method: string, venue: Setting['venue'] = VENUE): Setting => ({
  venue,
  answers: { 'exhaust.sound-level': { level, distance, method } },
});

const SOUND: Cases = {
  'sound-level': [
    one('92 dB(A) where 92 are allowed', 'met', sound(92, 20, 'static')),
    one('92.1 dB(A) where 92 are allowed', 'not-met', sound(92.1, 20, 'drive-by')),
    // inverse distance law: 20·log10(20/10) = 6.02 dB less at twice the distance
    one('98 dB(A) at half the distance', 'met', sound(98, 10, 'static')),
    one('98.1 dB(A) at half the distance', 'not-met', sound(98.1, 10, 'static')),
    one('within three metres: near-field, whatever it is called', 'absent', sound(120, 2.5, 'static')),
    one('at the venue’s distance, whatever it is called', 'not-met', sound(99, 20, 'near-field')),
    one('the venue has no limit', 'absent', sound(99, 20, 'static', { soundDistanceM: 20 })),
    one('the venue states no distance', 'absent', sound(99, 20, 'static', { soundLimitDb: 92 })),
    one('nothing answered', 'absent', { venue: VENUE }),
    one('distance not answered', 'absent', {
      venue: VENUE,
      answers: { 'exhaust.sound-level': { level: 99, method: 'static', distance: null } },
    }),
    one('method not answered', 'not-met', {
      venue: VENUE,
      answers: { 'exhaust.sound-level': { level: 99, method: null, distance: 20 } },
    }),
  ],
  'sound-level-comparable': [
    one('at the venue’s distance', 'met', sound(99, 20, 'static')),
    one('at another distance', 'met', sound(80, 15, 'static')),
    one('within three metres', 'not-met', sound(80, 2.5, 'static')),
    one('near-field', 'not-met', sound(80, 0.5, 'near-field')),
    one('nothing answered', 'not-met', { venue: VENUE }),
    one('the venue has no limit', 'absent', sound(80, 15, 'static', { soundDistanceM: 20 })),
    one('the venue states no distance', 'absent', sound(80, 15, 'static', { soundLimitDb: 92 })),
  ],
};

/** x forward, z up, mm; half way from the hoop to the front the line is at 1150 */
const clearance = (helmetTopZ: number, helmetTopX = 500): Setting => ({
  answers: {
    'rollover.clearance': { hoopTopX: 0, hoopTopZ: 1200, frontX: 1000, frontZ: 1100, helmetTopX, helmetTopZ },
  },
});
const upright: Setting = {
  answers: {
    'rollover.clearance': { hoopTopX: 0, hoopTopZ: 1200, frontX: 0, frontZ: 1100, helmetTopX: 0, helmetTopZ: 900 },
  },
};

const LISTED = { parameters: { internationalListApplies: { value: true } } };
/** accepted through its last day, then no more: the last day is moved around the last event day, 2026-06-14 */
function listed(parameter: string, key: string, standard: string, other: string): ExampleCase[] {
  const on = (day: string): Setting => ({
    parameters: { ...LISTED.parameters, [parameter]: { value: day } },
    answers: { [key]: standard },
  });
  return [
    one('last day is the last event day', 'met', on('2026-06-14')),
    one('last day is the first event day', 'not-met', on('2026-06-13')),
    one('the list does not apply', 'absent', {
      parameters: { internationalListApplies: { value: false }, [parameter]: { value: '2000-01-01' } },
      answers: { [key]: standard },
    }),
    one('another standard', 'absent', {
      parameters: { ...LISTED.parameters, [parameter]: { value: '2000-01-01' } },
      answers: { [key]: other },
    }),
    one('nothing answered', 'absent', LISTED),
  ];
}

const HELMET = 'helmet.standard';
const PEOPLE: Cases = {
  'rollover-clearance': [
    one('50 mm under the line', 'met', clearance(1100)),
    one('49 mm under the line', 'not-met', clearance(1101)),
    one('further forward the line is lower', 'not-met', clearance(1100, 800)),
    one('hoop and front at one place', 'unanswerable', upright),
    one('helmet in front of the front structure', 'unanswerable', clearance(900, 1001)),
  ],
  'helmet-sa2015-listed': [
    ...listed('helmetSa2015LastDay', HELMET, 'Snell SA2015', 'Snell SA2020'),
    one('off the published list since 2024', 'not-met', { ...LISTED, answers: { [HELMET]: 'Snell SA2015' } }),
  ],
  'helmet-sa2010-listed': [
    ...listed('helmetSa2010LastDay', HELMET, 'Snell SA2010', 'Snell SA2020'),
    one('off the published list since 2024', 'not-met', { ...LISTED, answers: { [HELMET]: 'Snell SA2010' } }),
  ],
  'helmet-8860-2010-listed': [
    ...listed('helmetFia8860Of2010LastDay', HELMET, 'FIA 8860-2010', 'FIA 8860-2018'),
    one('on the published list through 2028', 'met', { ...LISTED, answers: { [HELMET]: 'FIA 8860-2010' } }),
  ],
  'harness-8853-98-listed': [
    ...listed('harnessFia8853Of98LastDay', 'harness.standard', 'FIA 8853/98', 'FIA 8853-2016'),
    one('not accepted since 2023', 'not-met', { ...LISTED, answers: { 'harness.standard': 'FIA 8853/98' } }),
  ],
};

const set = (name: string, value: boolean): Setting => ({ parameters: { [name]: { value } } });
const HV_VALUE = { 'hv.isolation': 20 };
const ELECTRIC: Cases = {
  'hv-isolation': [one('not answered: another rule asks for it where it is needed', 'absent')],
  'hv-isolation-connected': [one('not answered: another rule asks for it where it is needed', 'absent')],
  'hv-isolation-shown': [
    one('conversion, value known', 'met', { vehicle: { conversion: true }, answers: HV_VALUE }),
    one('conversion, value not known', 'not-met', { vehicle: { conversion: true } }),
    one('group that asks for it, value known', 'met', { ...set('hvIsolationRequired', true), answers: HV_VALUE }),
    one('group that asks for it, value not known', 'not-met', set('hvIsolationRequired', true)),
    one('as its maker built it, a group that does not ask', 'absent', { vehicle: { conversion: false } }),
    one('nothing known of the car', 'absent'),
  ],
  'hv-isolation-known': [
    one('after work, value known', 'met', {
      answers: { 'hv.damage-or-work': 'work-signed-off', ...HV_VALUE },
    }),
    one('a conversion: another rule', 'absent', {
      vehicle: { conversion: true },
      answers: { 'hv.damage-or-work': 'work-signed-off' },
    }),
    one('after work', 'not-met', { answers: { 'hv.damage-or-work': 'work-signed-off' } }),
    one('after damage', 'not-met', { answers: { 'hv.damage-or-work': 'damage' } }),
    one('as its maker built it, nothing happened', 'absent', {
      vehicle: { conversion: false },
      answers: { 'hv.damage-or-work': 'none' },
    }),
    one('nothing known of the car', 'absent'),
  ],
};

const weights = (FL: number, FR: number, RL: number, RR: number, vehicle: Setting['vehicle'] = {}): Setting => ({
  vehicle,
  answers: { 'setup.corner-weights': { FL, FR, RL, RR } },
});
const threeCorners: Setting = {
  vehicle: { massKg: 500 },
  answers: { 'setup.corner-weights': { FL: 200, FR: 200, RL: 200 } },
};
const alignment = (part: string, value: number, vehicle: Setting['vehicle']): Setting => ({
  vehicle,
  answers: { 'setup.alignment': wheels({ camber: -2, toe: 1, caster: 6, [part]: value }) },
});

function baseline(part: string, inside: number, outside: number, property: string, recorded: number): ExampleCase[] {
  const vehicle = { baseline: { [property]: { FL: recorded, FR: recorded, RL: recorded, RR: recorded } } };
  return [
    one(`${inside} where ${recorded} is recorded`, 'met', alignment(part, inside, vehicle)),
    one(`${outside} where ${recorded} is recorded`, 'not-met', alignment(part, outside, vehicle)),
    one('no baseline recorded', 'absent', alignment(part, outside, {})),
    one('not measured', 'absent', { vehicle }),
  ];
}

const recorded = { baseline: { cornerWeightKg: wheels(280), rideHeightMm: wheels(110) } };
const SETUP: Cases = {
  'setup-cross-weight': [
    // published worked example: 600 + 900 of 2800 is 53.57 % on the right-front to left-rear diagonal
    one('700, 600, 900, 600: 53.57 %', 'not-met', weights(700, 600, 900, 600)),
    one('48 %', 'met', weights(260, 240, 240, 260)),
    one('just below 48 %', 'not-met', weights(260.1, 239.9, 240, 260)),
    one('52 %', 'met', weights(240, 260, 260, 240)),
    one('just above 52 %', 'not-met', weights(239.9, 260.1, 260, 240)),
    one('the other diagonal does not count', 'not-met', weights(300, 200, 200, 300)),
    one('three corners only', 'absent', threeCorners),
  ],
  'setup-mass-plausible': [
    one('50 kg more than recorded', 'met', weights(265, 265, 265, 265, { massKg: 1010 })),
    one('50.1 kg more than recorded', 'not-met', weights(265.1, 265, 265, 265, { massKg: 1010 })),
    one('50.1 kg less than recorded', 'not-met', weights(239.9, 240, 240, 240, { massKg: 1010 })),
    one('no mass recorded', 'absent', weights(265.1, 265, 265, 265)),
    one('three corners only', 'absent', threeCorners),
  ],
  'setup-corner-weight-baseline': [
    one('295 kg where 280 are recorded', 'met', {
      vehicle: recorded,
      answers: { 'setup.corner-weights': wheels(295) },
    }),
    one('295.1 kg where 280 are recorded', 'not-met', {
      vehicle: recorded,
      answers: { 'setup.corner-weights': wheels(295.1) },
    }),
    one('264.9 kg where 280 are recorded', 'not-met', {
      vehicle: recorded,
      answers: { 'setup.corner-weights': wheels(264.9) },
    }),
    one('no baseline recorded', 'absent', { answers: { 'setup.corner-weights': wheels(100) } }),
    one('not weighed', 'absent', { vehicle: recorded }),
  ],
  'setup-camber-baseline': baseline('camber', -2.5, -2.51, 'camberDeg', -2),
  'setup-toe-baseline': baseline('toe', 2, 2.1, 'toeMm', 1),
  'setup-caster-baseline': baseline('caster', 5.5, 5.49, 'casterDeg', 6),
  'setup-ride-height-baseline': [
    one('118 mm where 110 are recorded', 'met', { vehicle: recorded, answers: { 'setup.ride-height': wheels(118) } }),
    one('101 mm where 110 are recorded', 'not-met', {
      vehicle: recorded,
      answers: { 'setup.ride-height': wheels(101) },
    }),
    one('no baseline recorded', 'absent', { answers: { 'setup.ride-height': wheels(90) } }),
    one('not measured', 'absent', { vehicle: recorded }),
  ],
};

const usage = (given: RawAnswers): Setting => ({ answers: { 'car.usage': given } });
const PAPERS: Cases = {
  'usage-recorded': [
    one('odometer', 'met', usage({ odometer: 84200 })),
    one('track hours', 'met', usage({ trackHours: 41.5 })),
    one('neither', 'not-met'),
  ],
};

export const RECORD_CASES: Cases = { ...SOUND, ...PEOPLE, ...ELECTRIC, ...SETUP, ...PAPERS, ...FACT_CASES };
