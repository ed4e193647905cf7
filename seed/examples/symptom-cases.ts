import type { Result } from '../../src/domain/rules/model/finding.ts';
import type { ExampleCase } from './example-case.ts';

type Cases = Readonly<Record<string, readonly ExampleCase[]>>;

/** What may not be driven before it is found and put right, and one usual cause of each. */
const STOPS = [
  ['pulls-under-braking', 'hose'],
  ['long-pedal-after-laps', 'old-fluid'],
  ['temperature-rising', 'fan'],
  ['oil-pressure-drops-in-corners', 'low-level'],
  ['smell-of-fuel', 'hose-or-clamp'],
  ['smell-of-burning', 'wiring'],
] as const;

function casesOf(symptom: string, found: string): ExampleCase[] {
  const told = (felt: readonly string[] | null, cause?: string, repair?: string) => ({
    answers: {
      'debrief.symptoms': felt,
      ...(cause !== undefined && { [`debrief.${symptom}`]: { cause, repair } }),
    },
  });
  const one = (shows: string, result: Result | 'absent', setting: ReturnType<typeof told>): ExampleCase => ({
    shows,
    result,
    ...setting,
  });
  return [
    one('found and put right', 'met', told([symptom], found, 'replaced')),
    one('cause not found', 'not-met', told([symptom], 'not-found', 'replaced')),
    one('found, nothing done yet', 'not-met', told([symptom], found, 'not-yet')),
    one('felt, nothing said of its cause', 'unanswerable', told([symptom])),
    one('not ticked, but told of', 'not-met', told(['noise-in-corners'], 'not-found', 'not-yet')),
    one('felt something else', 'absent', told(['noise-in-corners'])),
    one('felt nothing', 'absent', told([])),
    one('not answered: another rule asks for it', 'absent', told(null)),
  ];
}

/** Symptoms after which a car stays off the track until they are found and put right. */
export const SYMPTOM_CASES: Cases = Object.fromEntries(
  STOPS.map(([symptom, found]) => [`felt-${symptom}-put-right`, casesOf(symptom, found)]),
);
