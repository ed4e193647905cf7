import { POSITION_KEYS } from '../../src/domain/catalogue/item.ts';
import type { Result } from '../../src/domain/rules/model/finding.ts';
import { brakeDuty } from '../../src/domain/trade/brakes/brake-heat-duty.ts';
import type { Vehicle } from '../../src/domain/vehicle.ts';
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

type Which = 'brake' | 'clutch';
type Prescribed = NonNullable<Vehicle['brakeFluidPrescribed']>;
const fluid = (which: Which, fluidClass: string, prescribed?: Prescribed): Setting => ({
  vehicle: prescribed === undefined ? {} : { [`${which}FluidPrescribed`]: prescribed },
  answers: { [`${which}-fluid.class`]: fluidClass },
});
const kindCases = (which: Which): ExampleCase[] => [
  one('DOT 4, nothing prescribed', 'met', fluid(which, 'DOT 4')),
  one('DOT 4 where DOT 4 is prescribed', 'met', fluid(which, 'DOT 4', 'DOT 4')),
  one('mineral oil, nothing prescribed', 'not-met', fluid(which, 'mineral-oil')),
  one('mineral oil where DOT 4 is prescribed', 'not-met', fluid(which, 'mineral-oil', 'DOT 4')),
  one('mineral oil where it is prescribed', 'met', fluid(which, 'mineral-oil', 'mineral-oil')),
  one('DOT 4 where mineral oil is prescribed', 'not-met', fluid(which, 'DOT 4', 'mineral-oil')),
  one('silicone, nothing prescribed: another rule', 'met', fluid(which, 'DOT 5')),
  one('class not known: another rule', 'absent', fluid(which, 'unknown', 'mineral-oil')),
];

const both = (brake: string, clutch: string, vehicle: Setting['vehicle'] = {}): Setting => ({
  vehicle,
  answers: { 'brake-fluid.class': brake, 'clutch-fluid.class': clutch },
});
const KINDS: Cases = {
  'brake-fluid-kind': kindCases('brake'),
  'clutch-fluid-kind': kindCases('clutch'),
  'brake-and-clutch-fluid': [
    one('DOT 5.1 and DOT 4', 'met', both('DOT 5.1', 'DOT 4')),
    one('DOT 5 and DOT 4, not known whether they share', 'not-met', both('DOT 5', 'DOT 4')),
    one('DOT 5 and DOT 4 in one reservoir', 'not-met', both('DOT 5', 'DOT 4', { sharedReservoir: true })),
    one('DOT 5 and DOT 4, each its own', 'absent', both('DOT 5', 'DOT 4', { sharedReservoir: false })),
    one('mineral oil prescribed for the clutch, which so has its own', 'absent', {
      ...both('DOT 4', 'mineral-oil', { clutchFluidPrescribed: 'mineral-oil' }),
    }),
    one('in one reservoir, whatever is prescribed', 'not-met', {
      ...both('DOT 4', 'mineral-oil', { clutchFluidPrescribed: 'mineral-oil', sharedReservoir: true }),
    }),
    one('brake fluid not known', 'absent', both('unknown', 'DOT 4')),
    one('clutch fluid not known', 'absent', both('DOT 5', 'unknown')),
  ],
};

const zones = (count: number, fromKmh: number, toKmh: number) =>
  Array.from({ length: count }, () => ({ fromKmh, toKmh }));
const HARD = { brakingZones: zones(4, 210, 80), lapLengthM: 3400, designAirTemperatureC: 28 };
const EASY = { brakingZones: zones(1, 120, 90), lapLengthM: 3400, designAirTemperatureC: 28 };
const CAR = { massKg: 1320 };
const NEEDS = brakeDuty(HARD, CAR);
if (NEEDS === undefined) throw new Error('the hard venue must be one that can be reckoned with');
/** What the estimate asks of this car at the hard venue: the rules are tried on both sides of it, whatever it is. */
const LOW = Math.round(NEEDS.ranges.fluidC.low);
const HIGH = Math.round(NEEDS.ranges.fluidC.high);

/** Only the wet point is known: the fluid counts as wet. */
const wet = (celsius: number | null, more: Setting = {}): Setting => ({
  vehicle: CAR,
  venue: HARD,
  ...more,
  answers: { 'brake-fluid.wet-boiling-point': celsius },
});
const measured = (celsius: number, more: Setting = {}): Setting => ({
  ...wet(LOW + 12, more),
  measured: { 'brake-fluid.measured-boiling-point': celsius },
});
const margin = (kelvin: number) => ({ parameters: { brakeFluidMargin: { value: kelvin, unit: 'K' } } });
/** By its age, 1 % of water in a year: nearly 230 °C after a week, below the favourable end after some years. */
const flushed = (on: string): Setting => ({
  ...wet(null),
  answers: { 'brake-fluid.class': 'DOT 4', 'brake-fluid.flushed-on': on },
});

/** Asks so much that plain DOT 4 of last week, at about 229 °C, lies inside the estimate. */
const BETWEEN = margin(235 - HIGH);
/** DOT 4 of that day, tested at the line. */
const flushedTested = (on: string, celsius: number, more: Setting = BETWEEN): Setting => ({
  ...flushed(on),
  ...more,
  measured: { 'brake-fluid.measured-boiling-point': celsius },
});
const undated = (fluidClass: string, celsius: number, more: Setting = {}): Setting => ({
  ...more,
  answers: { 'brake-fluid.class': fluidClass },
  measured: { 'brake-fluid.measured-boiling-point': celsius },
});
const LINE_TESTS = { parameters: { brakeFluidTestAtTheLine: { value: true } } };

const VENUE: Cases = {
  'brake-fluid-wet-for-venue': [
    one('just the favourable end of the estimate', 'met', wet(LOW)),
    one('1 °C less', 'not-met', wet(LOW - 1)),
    one('the same fluid where braking is easy', 'met', wet(LOW - 1, { venue: EASY })),
    one('10 K more, as the group asks', 'met', wet(LOW + 10, margin(10))),
    one('10 K more asked for, 9 K there', 'not-met', wet(LOW + 9, margin(10))),
    one('DOT 4 of last week', 'met', flushed('2026-06-07')),
    one('DOT 4 of ten years ago', 'not-met', flushed('2016-06-07')),
    one('DOT 3 without a date: a boil test, by another rule', 'absent', {
      ...wet(null),
      answers: { 'brake-fluid.class': 'DOT 3' },
    }),
    one('DOT 5 without a date: it takes up no water', 'met', {
      ...wet(null),
      answers: { 'brake-fluid.class': 'DOT 5' },
    }),
    one('the venue states no braking zones', 'absent', wet(100, { venue: {} })),
    one('the mass of the car is not known', 'absent', wet(100, { vehicle: {} })),
    one('not answered', 'unanswerable', { vehicle: CAR, venue: HARD }),
  ],
  'brake-fluid-boil-test': [
    { ...one('1 °C below the upper end: not tested yet', 'unanswerable', wet(HIGH - 1)), expect: 'to-inspect' },
    one('not tested at the line', 'unanswerable', wet(HIGH - 1, { stage: 'line' })),
    one('tested at the upper end', 'met', measured(HIGH)),
    one('tested 1 °C below it', 'not-met', measured(HIGH - 1)),
    one('10 K more, as the group asks', 'met', measured(HIGH + 10, margin(10))),
    one('10 K more asked for, 9 K there', 'not-met', measured(HIGH + 9, margin(10))),
    one('a fluid that is enough in any case', 'absent', wet(HIGH)),
    one('enough but for the margin of the group', 'not-met', {
      ...wet(HIGH + 9, margin(10)),
      measured: { 'brake-fluid.measured-boiling-point': 150 },
    }),
    one('enough with the margin of the group', 'absent', wet(HIGH + 10, margin(10))),
    one('the venue states no braking zones', 'absent', wet(100, { venue: {} })),
    one('below the favourable end: another rule', 'absent', wet(LOW - 1)),
    { ...one('just the favourable end', 'unanswerable', wet(LOW)), expect: 'to-inspect' },
    one('nothing known of the fluid: another rule', 'absent', wet(null)),
    one('inside the estimate, of last week: fresh is enough', 'absent', { ...flushed('2026-06-07'), ...BETWEEN }),
    one('fresh, and a reading inside the estimate: no worse than none', 'absent', flushedTested('2026-06-07', 226)),
    one('90 days old', 'absent', { ...flushed('2026-03-16'), ...BETWEEN }),
    { ...one('91 days old', 'unanswerable', { ...flushed('2026-03-15'), ...BETWEEN }), expect: 'to-inspect' },
    one('91 days old, tested inside the estimate', 'not-met', flushedTested('2026-03-15', 234)),
    one('91 days old, tested at its upper end', 'met', flushedTested('2026-03-15', 235)),
    one('of the last day', 'absent', { ...flushed('2026-06-14'), ...BETWEEN }),
    one('a day after the event is no date', 'not-met', {
      ...measured(HIGH - 1),
      answers: { 'brake-fluid.wet-boiling-point': LOW + 12, 'brake-fluid.flushed-on': '2026-06-15' },
    }),
    one('DOT 3 without a date, tested at the upper end', 'met', { ...wet(null), ...undated('DOT 3', HIGH) }),
    one('DOT 3 without a date, tested 1 °C below it', 'not-met', { ...wet(null), ...undated('DOT 3', HIGH - 1) }),
  ],
  'brake-fluid-reading-for-venue': [
    one('tested at the favourable end', 'met', measured(LOW)),
    one('tested 1 °C below it', 'not-met', measured(LOW - 1)),
    one('10 K more, as the group asks', 'not-met', measured(LOW + 9, margin(10))),
    one('fresh by its label, and tested below', 'not-met', flushedTested('2026-06-07', LOW - 1, {})),
    one('the same reading where braking is easy', 'met', measured(LOW - 1, { venue: EASY })),
    one('not tested', 'absent', wet(LOW - 1)),
  ],
  // DOT 4 of last week has 228 °C at least, less 10 K for the tester
  'brake-fluid-reading-not-fresh': [
    one('reads as fresh fluid of its class', 'met', flushedTested('2026-06-07', 218)),
    one('reads 1 °C less', 'not-met', flushedTested('2026-06-07', 217)),
    one('of the last day, read below its class', 'not-met', flushedTested('2026-06-14', 219)),
    one('90 days old: 208 °C at least, less 10 K', 'not-met', flushedTested('2026-03-16', 197)),
    one('not said to be fresh', 'absent', flushedTested('2026-03-15', 190)),
    one('silicone', 'absent', undated('DOT 5', 190)),
    one('not tested', 'absent', flushed('2026-06-07')),
  ],
  'brake-fluid-date-unknown': [
    { ...one('not tested yet', 'unanswerable'), expect: 'to-inspect' },
    one('not tested at the line', 'unanswerable', { stage: 'line' }),
    one('tested at what the group asks', 'met', undated('DOT 4', 190)),
    one('tested 1 °C below it', 'not-met', undated('DOT 4', 189)),
    one('a group that tests every car asks for a date besides', 'not-met', undated('DOT 4', 300, LINE_TESTS)),
    one('a date is there: another rule', 'absent', flushed('2016-06-07')),
  ],
};

const low = (item: string): ExampleCase[] => {
  const given = { [item]: { level: 'low', reason: 'opened-for-work' } };
  return [
    one('declared low', 'met', { answers: given }),
    one('declared low, and low at the line', 'not-met', { answers: given, measured: given }),
    one('declared low, filled at the line', 'met', { answers: given, measured: { [item]: { level: 'ok' } } }),
    one('too full at the line', 'met', { answers: given, measured: { [item]: { level: 'over-full' } } }),
    one('low by worn pads: they push it up again when they are new', 'absent', {
      answers: { [item]: { level: 'low', reason: 'pads-worn' } },
      measured: { [item]: { level: 'low', reason: 'pads-worn' } },
    }),
    one('not said: another rule', 'absent'),
  ];
};
const LOW_AT_LINE: Cases = {
  'brake-fluid-low-at-line': low('brake-fluid.level'),
  'clutch-fluid-low-at-line': low('clutch-fluid.level'),
};

const rotor = (mm: number, more: Setting = {}): Setting => ({
  vehicle: { rotorMinimumThicknessMm: { FL: 22, FR: 22, RL: 22, RR: 22 } },
  ...more,
  answers: { 'rotor.thickness': wheels(24, mm) },
});
const drum = (mm: number, measuredIn: boolean): Setting => ({
  vehicle: { drumMaximumDiameterMm: { FL: 204, FR: 204, RL: 204, RR: 204 } },
  parameters: { drumMeasured: { value: measuredIn } },
  answers: { 'drum.diameter': wheels(203, mm) },
});
const lining = (mm: number, kind?: 'bonded' | 'riveted'): Setting => ({
  vehicle: kind === undefined ? {} : { lining: { front: kind, rear: kind } },
  answers: { 'lining.thickness': wheels(4, mm) },
});

/** inside by less than a stepped gauge may be wrong: the line measures it */
const tooClose = (shows: string, setting: Setting): ExampleCase => ({
  ...one(shows, 'unanswerable', setting),
  expect: 'to-inspect',
});
const inside = (cylinders: string, condition: string): Setting => ({
  answers: { 'drum.wheel-cylinders': wheels('dry', cylinders), 'drum.condition': wheels('sound', condition) },
});

const WEAR: Cases = {
  // 0.05 mm a day, two days
  'rotor-lasts-event': [
    one('0.1 mm above the stamp for two days', 'met', rotor(22.1)),
    one('0.09 mm above the stamp for two days', 'not-met', rotor(22.09)),
    one('at the stamp', 'not-met', rotor(22)),
    { ...one('below the stamp: another rule', 'met', rotor(21.99)), at: { FL: 'absent', FR: 'met' } },
    one('0.05 mm above the stamp for one day', 'met', {
      ...rotor(22.05),
      event: { startsOn: '2026-06-14', endsOn: '2026-06-14' },
    }),
    one('no stamp on record', 'absent', rotor(10, { vehicle: {} })),
    one('not measured: another rule', 'absent', { ...rotor(22), answers: {} }),
  ],
  // in the tenths of a millimetre it is kept in: 1/16 in is 1.6 mm, 1/32 in is 0.8 mm
  'lining-thickness-bonded': [
    one('2.2 mm, bonded', 'met', lining(2.2, 'bonded')),
    tooClose('1.6 mm, bonded', lining(1.6, 'bonded')),
    one('1.5 mm, bonded', 'not-met', lining(1.5, 'bonded')),
    one('1.5 mm, not known how it is held', 'not-met', lining(1.5)),
    one('riveted: another rule', 'absent', lining(1.5, 'riveted')),
  ],
  'lining-thickness-riveted': [
    one('1.4 mm, riveted', 'met', lining(1.4, 'riveted')),
    tooClose('0.8 mm, riveted', lining(0.8, 'riveted')),
    one('0.7 mm, riveted', 'not-met', lining(0.7, 'riveted')),
    one('bonded: another rule', 'absent', lining(0.7, 'bonded')),
    one('not known how it is held: another rule', 'absent', lining(0.7)),
  ],
  // 1/16 in and two days of 0.1 mm: 1.79 mm, kept in tenths
  'lining-lasts-event': [
    one('1.8 mm, bonded', 'met', lining(1.8, 'bonded')),
    one('1.7 mm, bonded', 'not-met', lining(1.7, 'bonded')),
    one('what is left is the limit itself', 'met', {
      ...lining(1.8, 'bonded'),
      parameters: { liningBondedMinimum: { value: 1.6, unit: 'mm' } },
    }),
    one('1.7 mm, not known how it is held', 'not-met', lining(1.7)),
    one('1.0 mm, riveted', 'met', lining(1, 'riveted')),
    one('0.9 mm, riveted', 'not-met', lining(0.9, 'riveted')),
    { ...one('at the limit already: another rule', 'met', lining(1.5, 'bonded')), at: { FL: 'absent', FR: 'met' } },
    {
      ...one('at the limit itself', 'not-met', lining(1.6, 'bonded')),
      parameters: { liningBondedMinimum: { value: 1.6, unit: 'mm' } },
    },
    one('not measured: another rule', 'absent', { vehicle: {}, answers: {} }),
  ],
  'lining-axle-even': [
    one('2 mm apart', 'met', lining(2)),
    one('2.1 mm apart', 'not-met', lining(1.9)),
    one('one side not measured', 'absent', { vehicle: {}, answers: { 'lining.thickness': { FL: 2, RR: 5 } } }),
  ],
  'drum-seen': [
    one('both seen', 'met', inside('dry', 'sound')),
    one('wet is another rule', 'met', inside('wet', 'cracked')),
    one('cylinder not seen', 'not-met', inside('not-seen', 'sound')),
    one('drum not seen', 'not-met', inside('dry', 'not-seen')),
    one('not answered', 'unanswerable'),
  ],
  'drum-diameter': [
    one('as wide as it may be', 'met', drum(204, true)),
    one('0.1 mm wider', 'not-met', drum(204.1, true)),
    one('a group that does not measure it', 'absent', drum(210, false)),
  ],
};

/** Fluids, rotors, drums and linings. */
export const BRAKE_CASES: Cases = { ...KINDS, ...VENUE, ...LOW_AT_LINE, ...WEAR };
