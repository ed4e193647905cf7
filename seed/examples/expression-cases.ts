import { POSITION_KEYS } from '../../src/domain/catalogue/item.ts';
import type { RawAnswers } from '../../src/domain/declaration/declaration.ts';
import type { Result } from '../../src/domain/rules/model/finding.ts';
import type { ExampleCase, Setting } from './example-case.ts';
import { AGREE_CASES } from './agree-cases.ts';
import { BRAKE_CASES } from './brake-cases.ts';
import { FLUID_CASES } from './fluid-cases.ts';
import { RECORD_CASES } from './record-cases.ts';
import { SLIP_CASES } from './slip-cases.ts';
import { SYMPTOM_CASES } from './symptom-cases.ts';
import { RESTRAINT_CASES } from './restraint-cases.ts';
import { TYRE_CASES } from './tyre-cases.ts';
import { WHEEL_CASES } from './wheel-cases.ts';

type Cases = Readonly<Record<string, readonly ExampleCase[]>>;

const one = (shows: string, result: Result | 'absent', setting: Setting = {}): ExampleCase => ({
  shows,
  result,
  ...setting,
});
const answers = (given: RawAnswers, more: Setting = {}): Setting => ({ ...more, answers: given });
const wheels = (value: unknown) => Object.fromEntries(POSITION_KEYS.wheel.map((wheel) => [wheel, value]));
/** one wheel has `value`, the others `good` */
const oneWheel = (value: unknown, good: unknown) => ({ ...wheels(good), FL: value });

/** ISO 4925 classes and what the document's parameters, from memory, ask for: the last °C outside, the first inside. */
const ISO_CLASSES = [
  ['ISO 3', 205, 140],
  ['ISO 4', 230, 155],
  ['ISO 5-1', 260, 180],
  ['ISO 6', 250, 165],
  ['ISO 7', 260, 180],
] as const;

function isoCases(step: 'dry' | 'wet'): ExampleCase[] {
  const key = `brake-fluid.${step}-boiling-point`;
  const cases = ISO_CLASSES.flatMap(([fluid, dry, wet]) => {
    const limit = step === 'dry' ? dry : wet;
    return [
      one(`${fluid} of ${limit} °C is plausible`, 'met', answers({ 'brake-fluid.class': fluid, [key]: limit })),
      one(`${fluid} of ${limit - 1} °C is not`, 'not-met', answers({ 'brake-fluid.class': fluid, [key]: limit - 1 })),
    ];
  });
  return [
    ...cases,
    one('a DOT class is judged by another rule', 'absent', answers({ 'brake-fluid.class': 'DOT 4', [key]: 100 })),
    one('no class given', 'absent', answers({ [key]: 100 })),
  ];
}

const LINE_TEST = { parameters: { brakeFluidTestAtTheLine: { value: true } } };
const unasked = (parameter: string): Setting => ({ parameters: { [parameter]: { value: false } } });
/** What a group does not ask is judged where it is said, and not missing where it is not; where it asks, it is missing. */
const notAsked = (parameter: string, bad: Setting['answers']): ExampleCase[] => [
  one('a group that does not ask it, and nothing is said', 'absent', unasked(parameter)),
  one('a group that does not ask it, and it is said', 'not-met', { ...unasked(parameter), answers: bad }),
  one('a group that asks it, and nothing is said', 'unanswerable', { parameters: { [parameter]: { value: true } } }),
];

const wetPoint = (fluidClass: string, minimum: number, wet?: number): Setting => ({
  parameters: { brakeFluidWetMinimum: { value: minimum, unit: '°C' } },
  answers: { 'brake-fluid.class': fluidClass, ...(wet !== undefined && { 'brake-fluid.wet-boiling-point': wet }) },
});

const BRAKES: Cases = {
  'brake-fluid-label-iso-dry': isoCases('dry'),
  'brake-fluid-label-iso-wet': isoCases('wet'),
  'brake-fluid-label-dot-5-and-5-1-dry': [
    one('DOT 5 of 259 °C', 'not-met', answers({ 'brake-fluid.class': 'DOT 5', 'brake-fluid.dry-boiling-point': 259 })),
  ],
  'brake-fluid-label-dot-5-and-5-1-wet': [
    one(
      'DOT 5.1 of 179 °C',
      'not-met',
      answers({ 'brake-fluid.class': 'DOT 5.1', 'brake-fluid.wet-boiling-point': 179 }),
    ),
  ],
  'brake-fluid-wet-below-dry': [
    { shows: 'the wet one not read', result: 'absent', answers: { 'brake-fluid.dry-boiling-point': 230 } },
    { shows: 'the dry one not read', result: 'absent', answers: { 'brake-fluid.wet-boiling-point': 230 } },
    one(
      'wet below dry',
      'met',
      answers({ 'brake-fluid.wet-boiling-point': 194, 'brake-fluid.dry-boiling-point': 195 }),
    ),
    one(
      'both alike',
      'not-met',
      answers({ 'brake-fluid.wet-boiling-point': 195, 'brake-fluid.dry-boiling-point': 195 }),
    ),
    one(
      'mineral oil takes up no water',
      'absent',
      answers({
        'brake-fluid.class': 'mineral-oil',
        'brake-fluid.wet-boiling-point': 260,
        'brake-fluid.dry-boiling-point': 260,
      }),
    ),
  ],
  'brake-fluid-measured': [
    { ...one('not measured yet, before the line', 'unanswerable', LINE_TEST), expect: 'to-inspect' },
    one('not measured at the line', 'unanswerable', { ...LINE_TEST, stage: 'line' }),
    one('a group that does not test every car, not measured', 'absent', { stage: 'line' }),
    one('a group that does not test every car, and it was measured', 'not-met', {
      measured: { 'brake-fluid.measured-boiling-point': 150 },
    }),
  ],
  'pad-temperature-plausible': [
    one(
      'from 300 to 301 °C',
      'met',
      answers({ 'pad.temperature-range': { front: { low: 300, high: 301 }, rear: { low: 0, high: 500 } } }),
    ),
    one(
      'from 500 to 500 °C',
      'not-met',
      answers({ 'pad.temperature-range': { front: { low: 500, high: 500 }, rear: { low: 0, high: 500 } } }),
    ),
    one('not given: nobody needs it for this', 'absent', {}),
  ],
  'seat-standard': notAsked('seatAsked', { 'seat.standard': 'unknown' }),
  'battery-positive-covered': notAsked('preparedCarAsked', { 'battery.positive-covered': false }),
  'cameras-secured': notAsked('preparedCarAsked', { 'body.cameras-secured': false }),
  'full-inspection-advised': notAsked('preparedCarAsked', { 'full-inspection.done-on': { date: '2020-01-01' } }),
  'wheel-clean': notAsked('wheelDetailsAsked', { 'wheel.clean': wheels(false) }),
  'wheel-weights': notAsked('wheelDetailsAsked', { 'wheel.weights-present': wheels('lost') }),
  'extinguisher-mounted': [
    one('none is asked for, and nothing is said', 'absent', unasked('extinguisherRequired')),
    one('none is asked for, and none is there', 'absent', {
      ...unasked('extinguisherRequired'),
      answers: { 'extinguisher.type': 'none' },
    }),
    one('none is asked for, one is there, and nobody says how it is held', 'unanswerable', {
      ...unasked('extinguisherRequired'),
      answers: { 'extinguisher.type': 'powder' },
    }),
    one('none is asked for, and one hangs in a clip', 'not-met', {
      ...unasked('extinguisherRequired'),
      answers: { 'extinguisher.mounted': false },
    }),
  ],
  'oil-grade-form': [one('not given: nobody needs it for this', 'absent', {})],
  'brake-fluid-wet-minimum': [
    one('DOT 4 has what 155 °C asks for, whatever its label says more', 'absent', wetPoint('DOT 4', 155)),
    one('DOT 4 and 1 °C more: the label is asked', 'unanswerable', wetPoint('DOT 4', 156)),
    one('DOT 3 may have less than 155 °C: the label is asked', 'unanswerable', wetPoint('DOT 3', 155)),
    one('class not known: the label is asked', 'unanswerable', wetPoint('unknown', 155)),
    one('mineral oil has no wet point', 'absent', wetPoint('mineral-oil', 155)),
    one('given with a class that would do, and too low', 'not-met', wetPoint('DOT 4', 155, 154)),
    one('given with a class that would not do, and enough', 'met', wetPoint('DOT 3', 155, 155)),
  ],
};

const play = (item: string, mm: number | undefined): Setting =>
  answers({ [item]: wheels(mm === undefined ? { felt: 'felt' } : { felt: 'none', mm }) });

const SUSPENSION_AND_WHEELS: Cases = {
  'bushing-front-upper-arm': [
    {
      ...one(
        'another location is judged by other rules',
        'met',
        answers({ 'bushing.condition': { 'front-upper-arm': 'ok', subframe: 'split' } }),
      ),
      at: { 'front-upper-arm': 'met', subframe: 'absent' },
    },
  ],
  'wheel-play-nine-three-measured': [one('not measured', 'absent', play('wheel-play.nine-three', undefined))],
  'wheel-play-twelve-six-measured': [one('not measured', 'absent', play('wheel-play.twelve-six', undefined))],
  'damper-service-professional': [
    one('use not stated', 'unanswerable', answers({ 'damper.serviced-on': '2026-06-01' })),
  ],
  'tyre-hot-pressure': [one('before the first session', 'absent')],
  'wheel-runout': [one('not measured', 'absent', answers({ 'wheel.bent': wheels({ bent: true }) }))],
  'wheel-wobble-measured': [
    one('runs true', 'met', answers({ 'wheel.bent': wheels({ bent: false }) })),
    one('wobbles, measured', 'met', answers({ 'wheel.bent': oneWheel({ bent: true, runout: 1.2 }, { bent: false }) })),
    one('wobbles, not measured', 'not-met', answers({ 'wheel.bent': oneWheel({ bent: true }, { bent: false }) })),
  ],
};

/** Cases written by hand: of every expression, and of conditions that a derived case does not try. */
export const EXPRESSION_CASES: Cases = {
  ...BRAKES,
  ...SUSPENSION_AND_WHEELS,
  ...RECORD_CASES,
  ...RESTRAINT_CASES,
  ...WHEEL_CASES,
  ...TYRE_CASES,
  ...BRAKE_CASES,
  ...FLUID_CASES,
  ...SYMPTOM_CASES,
  ...SLIP_CASES,
  ...AGREE_CASES,
};
