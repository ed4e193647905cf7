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

/** A repair that cannot have mended the cause, one that can, and the same repair of a cause that it mends. */
function mended(symptom: string, cause: string, repair: string, other: string): readonly ExampleCase[] {
  const told = (what: string, done: string): RawAnswers => ({ [`debrief.${symptom}`]: { cause: what, repair: done } });
  return [
    one(`${cause}, ${repair}`, 'not-met', told(cause, repair)),
    one(`${cause}, replaced`, 'met', told(cause, 'replaced')),
    one(`${other}, ${repair}`, 'met', told(other, repair)),
    one('nothing said', 'absent'),
  ];
}

const angles = (shoulder: number, lap: number): RawAnswers => ({ 'harness.angles': { shoulder, lap } });

/** Answers that do not go together. Common practice, no source. */
export const SLIP_CASES: Cases = {
  'gearbox-fluid-leak': leak('gearbox-fluid.level', 'at-hole'),
  'differential-fluid-leak': leak('differential-fluid.level', 'at-hole'),
  'coolant-lost': [
    ...leak('coolant.level', 'ok'),
    one('boiled over and filled up', 'not-met', { 'coolant.level': { level: 'ok', reason: 'boiled-over' } }),
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
  'felt-pulls-under-braking-mended': mended('pulls-under-braking', 'hose', 'adjusted', 'caliper-guides'),
  'felt-long-pedal-after-laps-mended': mended('long-pedal-after-laps', 'leak', 'filled-or-bled', 'air-in-system'),
  'felt-temperature-rising-mended': mended('temperature-rising', 'hose', 'filled-or-bled', 'low-coolant'),
  'felt-oil-pressure-drops-in-corners-mended': mended(
    'oil-pressure-drops-in-corners',
    'pump-or-bearings',
    'filled-or-bled',
    'low-level',
  ),
  'felt-smell-of-fuel-mended': mended('smell-of-fuel', 'hose-or-clamp', 'cleaned', 'spilled-while-filling'),
  'felt-smell-of-burning-mended': mended('smell-of-burning', 'wiring', 'cleaned', 'rag-or-rubbish'),
};
