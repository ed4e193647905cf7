import type { RawAnswers } from '../../src/domain/declaration/declaration.ts';
import type { Result } from '../../src/domain/rules/model/finding.ts';
import type { ExampleCase } from './example-case.ts';

type Cases = Readonly<Record<string, readonly ExampleCase[]>>;

const one = (shows: string, result: Result | 'absent', answers: RawAnswers = {}): ExampleCase => ({
  shows,
  result,
  answers,
});

/** Filled up over a leak is a leak. */
const leak = (item: string, full: string): readonly ExampleCase[] => [
  one('a leak', 'not-met', { [item]: { level: 'low', reason: 'leak' } }),
  one('filled up over a leak', 'not-met', { [item]: { level: full, reason: 'leak' } }),
  one('opened for work', 'met', { [item]: { level: 'low', reason: 'opened-for-work' } }),
  one('full, no reason asked', 'absent', { [item]: { level: full } }),
];

type Repairs = Readonly<Record<string, readonly string[]>>;

/** Of a symptom: each repair with the causes that it cannot have mended, and those that it does mend. */
function mended(symptom: string, cannot: Repairs, can: Repairs): readonly ExampleCase[] {
  const tell = (repairs: Repairs, result: Result): ExampleCase[] =>
    Object.entries(repairs).flatMap(([repair, causes]) =>
      causes.map((cause) => one(`${cause}, ${repair}`, result, { [`debrief.${symptom}`]: { cause, repair } })),
    );
  return [...tell(cannot, 'not-met'), ...tell(can, 'met'), one('nothing said', 'absent')];
}

/** What the line looks at where it was felt. */
const FELT = [
  'pulls-under-braking',
  'long-pedal-after-laps',
  'weak-brakes-when-cold',
  'vibration',
  'vibration-under-braking',
  'knock-over-kerbs',
  'wanders',
  'temperature-rising',
  'oil-pressure-drops-in-corners',
  'smell-of-fuel',
  'smell-of-burning',
  'noise-in-corners',
];

const angles = (shoulder: number, lap: number): RawAnswers => ({ 'harness.angles': { shoulder, lap } });

const weakCold = (cause: string, repair: string): RawAnswers => ({
  'debrief.symptoms': ['weak-brakes-when-cold'],
  'debrief.weak-brakes-when-cold': { cause, repair },
});

/** °C; what the document asks of a measured fluid */
const LEAST_MEASURED = 190;

/** Answers that do not go together. Common practice, no source. */
export const SLIP_CASES: Cases = {
  'gearbox-fluid-leak': leak('gearbox-fluid.level', 'at-hole'),
  'differential-fluid-leak': leak('differential-fluid.level', 'at-hole'),
  'coolant-lost': [
    ...leak('coolant.level', 'ok'),
    one('boiled over and filled up', 'not-met', { 'coolant.level': { level: 'ok', reason: 'boiled-over' } }),
  ],
  'symptoms-said': [
    one('nothing was felt', 'met', { 'debrief.symptoms': [] }),
    one('something was felt', 'met', { 'debrief.symptoms': ['wanders'] }),
    one('not said', 'unanswerable'),
  ],
  ...Object.fromEntries(
    FELT.map((symptom) => [`felt-${symptom}`, [one('not said: another rule asks for it', 'absent')]]),
  ),
  'felt-steps-out-under-power': [
    {
      ...one('the rear stepped out', 'not-met', { 'debrief.symptoms': ['steps-out-under-power'] }),
      at: { RL: 'not-met', FL: 'absent' },
    },
    one('something else was felt', 'met', { 'debrief.symptoms': ['pushes-wide'] }),
    one('nothing was felt', 'met', { 'debrief.symptoms': [] }),
    one('not said: another rule asks for it', 'absent'),
  ],
  'felt-weak-brakes-when-cold-put-right': [
    ...['replaced', 'repaired'].map((repair) =>
      one(`glazed pads, ${repair}`, 'met', weakCold('glazed-or-oily-pads', repair)),
    ),
    ...['adjusted', 'cleaned', 'filled-or-bled', 'not-yet'].map((repair) =>
      one(`glazed pads, ${repair}`, 'not-met', weakCold('glazed-or-oily-pads', repair)),
    ),
    one('not found', 'not-met', weakCold('not-found', 'replaced')),
    one('not ticked, but told of', 'not-met', { ...weakCold('brake-servo', 'not-yet'), 'debrief.symptoms': [] }),
    one('felt, nothing said of its cause', 'unanswerable', { 'debrief.symptoms': ['weak-brakes-when-cold'] }),
    one('felt something else', 'absent', { 'debrief.symptoms': ['wanders'] }),
    one('not answered: another rule asks for it', 'absent'),
  ],
  'pad-works-cold': [
    {
      ...one('from 200 °C in front, from 201 °C at the rear', 'not-met', {
        'pad.temperature-range': { front: { low: 200, high: 700 }, rear: { low: 201, high: 700 } },
      }),
      at: { front: 'met', rear: 'not-met' },
    },
    one('from 200 °C on both axles', 'met', {
      'pad.temperature-range': { front: { low: 200, high: 700 }, rear: { low: 200, high: 700 } },
    }),
    one('not given: the line has the pedal tried', 'absent'),
  ],
  'brake-fluid-unknown-tested': [
    ...(['other', 'unknown', null] as const).flatMap((fluid) =>
      [LEAST_MEASURED, LEAST_MEASURED - 1].map((measured) => ({
        ...one(`class ${fluid ?? 'left out'}, boils at ${measured} °C`, measured < LEAST_MEASURED ? 'not-met' : 'met', {
          'brake-fluid.class': fluid,
        }),
        measured: { 'brake-fluid.measured-boiling-point': measured },
      })),
    ),
    { ...one('unknown, not measured yet', 'unanswerable', { 'brake-fluid.class': 'unknown' }), expect: 'to-inspect' },
    one('a known fluid', 'absent', { 'brake-fluid.class': 'DOT 4' }),
    {
      ...one('a group that tests every fluid', 'absent', { 'brake-fluid.class': 'unknown' }),
      parameters: { brakeFluidTestAtTheLine: { value: true } },
    },
  ],
  'hv-status-light-faulty': [
    one('works', 'met', { 'hv.status-light': 'works' }),
    one('none fitted', 'met', { 'hv.status-light': 'not-fitted' }),
    one('faulty', 'not-met', { 'hv.status-light': 'faulty' }),
    one('not answered: another rule asks for it', 'absent'),
  ],
  'harness-shoulder-angle-far': [
    one('20 degrees up', 'met', angles(-20, 60)),
    one('21 degrees up', 'not-met', angles(-21, 60)),
    one('60 degrees down', 'met', angles(60, 60)),
    one('61 degrees down', 'not-met', angles(61, 60)),
    one('not measured', 'absent'),
  ],
  'harness-lap-angle-far': [
    one('30 degrees', 'met', angles(10, 30)),
    one('29 degrees', 'not-met', angles(10, 29)),
    one('90 degrees', 'met', angles(10, 90)),
    one('91 degrees', 'not-met', angles(10, 91)),
    one('not measured', 'absent'),
  ],
  'felt-pulls-under-braking-mended': mended(
    'pulls-under-braking',
    {
      repaired: ['hose'],
      cleaned: ['hose', 'bushing-or-joint'],
      adjusted: ['hose', 'caliper-piston', 'caliper-guides', 'pads-or-rotor'],
      'filled-or-bled': ['hose', 'caliper-piston', 'caliper-guides', 'pads-or-rotor', 'bushing-or-joint'],
    },
    {
      replaced: ['hose', 'caliper-piston', 'pads-or-rotor', 'bushing-or-joint'],
      repaired: ['caliper-piston'],
      cleaned: ['caliper-guides'],
      adjusted: ['bushing-or-joint', 'tyre-or-pressure'],
      'filled-or-bled': ['tyre-or-pressure'],
    },
  ),
  'felt-long-pedal-after-laps-mended': mended(
    'long-pedal-after-laps',
    {
      repaired: ['hose-swells', 'pads-worn'],
      cleaned: ['leak', 'hose-swells', 'pads-worn', 'wheel-bearing-play', 'old-fluid', 'air-in-system'],
      adjusted: ['leak', 'hose-swells', 'pads-worn', 'old-fluid', 'air-in-system'],
      'filled-or-bled': ['leak', 'hose-swells', 'pads-worn', 'wheel-bearing-play'],
    },
    {
      replaced: ['leak', 'hose-swells', 'pads-worn', 'wheel-bearing-play', 'old-fluid'],
      repaired: ['leak', 'air-in-system'],
      adjusted: ['wheel-bearing-play'],
      'filled-or-bled': ['old-fluid', 'air-in-system'],
    },
  ),
  'felt-temperature-rising-mended': mended(
    'temperature-rising',
    {
      cleaned: ['water-pump', 'thermostat', 'hose', 'low-coolant', 'air-in-system', 'low-oil'],
      adjusted: ['water-pump', 'thermostat', 'low-coolant', 'air-in-system', 'low-oil'],
      'filled-or-bled': ['hose', 'water-pump', 'thermostat', 'fan', 'cap', 'blocked-radiator'],
    },
    {
      replaced: ['hose', 'water-pump', 'cap', 'low-coolant'],
      cleaned: ['blocked-radiator'],
      adjusted: ['hose', 'fan'],
      'filled-or-bled': ['low-coolant', 'air-in-system', 'low-oil'],
    },
  ),
  'felt-oil-pressure-drops-in-corners-mended': mended(
    'oil-pressure-drops-in-corners',
    {
      cleaned: ['pump-or-bearings', 'low-level', 'wrong-grade'],
      adjusted: ['pump-or-bearings', 'low-level', 'wrong-grade'],
      'filled-or-bled': ['pump-or-bearings', 'pick-up-or-baffle', 'sensor-or-wiring'],
    },
    {
      replaced: ['pump-or-bearings', 'pick-up-or-baffle', 'wrong-grade'],
      cleaned: ['pick-up-or-baffle'],
      'filled-or-bled': ['low-level', 'wrong-grade'],
    },
  ),
  'felt-smell-of-fuel-mended': mended(
    'smell-of-fuel',
    {
      cleaned: ['hose-or-clamp', 'filler-neck', 'pump-or-rail'],
      adjusted: ['filler-neck', 'pump-or-rail'],
      'filled-or-bled': ['hose-or-clamp', 'filler-neck', 'pump-or-rail', 'cap-or-seal', 'tank-breather'],
    },
    {
      replaced: ['hose-or-clamp', 'filler-neck', 'cap-or-seal'],
      cleaned: ['spilled-while-filling', 'tank-breather'],
      adjusted: ['hose-or-clamp'],
    },
  ),
  'felt-smell-of-burning-mended': mended(
    'smell-of-burning',
    {
      cleaned: ['wiring', 'oil-on-exhaust', 'clutch', 'belt', 'something-touched-exhaust'],
      adjusted: ['wiring', 'oil-on-exhaust'],
      'filled-or-bled': ['wiring', 'oil-on-exhaust', 'brake-dragging', 'clutch', 'belt', 'something-touched-exhaust'],
    },
    {
      replaced: ['wiring', 'clutch', 'brake-dragging'],
      cleaned: ['rag-or-rubbish', 'brake-dragging'],
      adjusted: ['belt', 'something-touched-exhaust'],
      'filled-or-bled': ['rag-or-rubbish'],
    },
  ),
};
