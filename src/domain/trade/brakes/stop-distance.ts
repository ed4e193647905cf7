import { z } from 'zod';
import { formatQuantity as show, roundTo } from '../../quantity.ts';
import { type Assumption, calculation, measure, notComputable, type WorkStep } from '../calculation.ts';

/** Standard gravity, m/s². NIST SP 811: exact. */
export const STANDARD_GRAVITY = 9.80665;

/**
 * Road stop tests: from 20 mph within a distance in feet.
 *
 * @see Ohio Administrative Code 4501:2-1-08 (published)
 */
export const STOP_TESTS = {
  'four-wheel-brakes': { speedMph: 20, distanceFt: 30 },
  'other-brakes': { speedMph: 20, distanceFt: 40 },
} as const;
export type StopTest = keyof typeof STOP_TESTS;

const KMH_PER_MPH = 1.609344;
const M_PER_FT = 0.3048;

function assertPositive(pointer: string, value: number, what: string): void {
  if (!(Number.isFinite(value) && value > 0))
    throw notComputable(pointer, 'not-positive', `${what} is more than nothing.`);
}

/**
 * Mean deceleration of a stop, g: v²/(2·d), after `reactionSeconds` at full speed.
 *
 * @param speedKmh speed at the start, km/h
 * @param distanceM distance covered until standstill, m
 * @throws NotComputable at `/speedKmh` or `/distanceM` when not positive or when the distance is gone before braking
 * @see kinematics; standard gravity 9.80665 m/s²
 */
export function stopDecelerationG(speedKmh: number, distanceM: number, reactionSeconds = 0): number {
  assertPositive('/speedKmh', speedKmh, 'The speed');
  assertPositive('/distanceM', distanceM, 'The distance');
  const speed = speedKmh / 3.6;
  const braking = distanceM - speed * reactionSeconds;
  if (braking <= 0) throw notComputable('/distanceM', 'implausible', 'The distance is gone before the brakes come on.');
  return (speed * speed) / (2 * braking) / STANDARD_GRAVITY;
}

/**
 * Distance of a stop, m, at a mean deceleration in g, with `reactionSeconds` at full speed before it.
 *
 * @throws NotComputable at `/speedKmh` or `/decelerationG` when not positive
 * @see kinematics; standard gravity 9.80665 m/s²
 */
export function stopDistanceM(speedKmh: number, decelerationG: number, reactionSeconds = 0): number {
  assertPositive('/speedKmh', speedKmh, 'The speed');
  assertPositive('/decelerationG', decelerationG, 'The deceleration');
  const speed = speedKmh / 3.6;
  return speed * reactionSeconds + (speed * speed) / (2 * decelerationG * STANDARD_GRAVITY);
}

/** The mean deceleration a road stop test asks for, g. Never throws. @see `STOP_TESTS` */
export function stopTestG(test: StopTest): number {
  const { speedMph, distanceFt } = STOP_TESTS[test];
  return stopDecelerationG(speedMph * KMH_PER_MPH, distanceFt * M_PER_FT);
}

const Input = z.strictObject({
  speedKmh: measure('km/h', 'Speed at the start', { min: 1, max: 400 }),
  distanceM: measure('m', 'Distance until standstill; give this or the deceleration', {
    min: 0.1,
    max: 5000,
  }).optional(),
  decelerationG: measure('1', 'Mean deceleration in g; give this or the distance', { min: 0.01, max: 6 }).optional(),
  reactionSeconds: measure('s', 'Time at full speed before the brakes come on (0 where absent)', {
    min: 0,
    max: 5,
  }).optional(),
  test: z
    .enum(['four-wheel-brakes', 'other-brakes'])
    .optional()
    .describe('Road stop test to compare with: from 20 mph within 30 ft (four-wheel brakes) or 40 ft'),
});
type Input = z.infer<typeof Input>;

const Result = z.object({
  decelerationG: z.number().describe('Mean deceleration, g'),
  distanceM: z.number().describe('Distance until standstill, m'),
  brakingSeconds: z.number().describe('Time on the brakes, s'),
  neededG: z.number().nullable().describe('What the road stop test asks for, g; null where none was named'),
  meets: z.boolean().nullable().describe('At least that; null where none was named'),
});
type Result = z.infer<typeof Result>;

function solve(input: Input): { decelerationG: number; distanceM: number } {
  const { speedKmh, distanceM, decelerationG, reactionSeconds = 0 } = input;
  if (distanceM !== undefined && decelerationG === undefined)
    return { distanceM, decelerationG: stopDecelerationG(speedKmh, distanceM, reactionSeconds) };
  if (decelerationG !== undefined && distanceM === undefined)
    return { decelerationG, distanceM: stopDistanceM(speedKmh, decelerationG, reactionSeconds) };
  throw notComputable('/distanceM', 'one-of', 'Give either distanceM or decelerationG.');
}

function stepsOf(input: Input, result: Result): WorkStep[] {
  const { speedKmh, reactionSeconds = 0 } = input;
  const speed = roundTo(speedKmh / 3.6, 3);
  const back = input.distanceM === undefined;
  const reaction = `${speed}·${reactionSeconds}`;
  return [
    { what: 'Speed', formula: 'v = V/3.6', numbers: `${roundTo(speedKmh, 3)}/3.6`, result: show(speed, 'm/s') },
    back
      ? {
          what: 'Distance',
          formula: 'd = v·tr + v²/(2·a·g)',
          numbers: `${reaction} + ${speed}²/(2·${result.decelerationG}·${STANDARD_GRAVITY})`,
          result: show(result.distanceM, 'm'),
        }
      : {
          what: 'Mean deceleration',
          formula: 'a = v²/(2·(d − v·tr)·g)',
          numbers: `${speed}²/(2·(${result.distanceM} − ${reaction})·${STANDARD_GRAVITY})`,
          result: `${result.decelerationG} g`,
        },
  ];
}

/** Deceleration of a stop from its distance, or the other way round. */
export const STOP_DISTANCE = calculation<Input, Result>({
  name: 'stop-distance',
  title: 'Stopping distance and deceleration',
  summary: 'Mean deceleration from speed and distance, or distance from deceleration; against a road stop test.',
  input: Input,
  result: Result,
  sources: [
    { title: 'Kinematics of constant deceleration', standing: 'derived' },
    { title: 'Ohio Administrative Code 4501:2-1-08: stop from 20 mph within 30 ft or 40 ft', standing: 'published' },
  ],
  example: { speedKmh: { value: 20, unit: 'mph' }, distanceM: { value: 30, unit: 'ft' }, test: 'four-wheel-brakes' },
  compute(input) {
    const { decelerationG, distanceM } = solve(input);
    const neededG = input.test === undefined ? null : stopTestG(input.test);
    const result: Result = {
      decelerationG: roundTo(decelerationG, 3),
      distanceM: roundTo(distanceM, 2),
      brakingSeconds: roundTo(input.speedKmh / 3.6 / (decelerationG * STANDARD_GRAVITY), 2),
      neededG: neededG === null ? null : roundTo(neededG, 3),
      // a stop at exactly the limit meets it, whatever the last binary digit of the conversion says
      meets: neededG === null ? null : roundTo(decelerationG, 9) >= roundTo(neededG, 9),
    };
    const assumptions: Assumption[] = [
      { name: 'deceleration', value: 'constant, on level ground', standing: 'derived' },
      ...(input.reactionSeconds === undefined
        ? [{ name: 'time before braking', value: '0 s', standing: 'derived' as const }]
        : []),
    ];
    return {
      result,
      steps: stepsOf(input, result),
      assumptions,
      cautions: ['Try stops only where nobody can be hit, with room for twice the distance you expect.'],
    };
  },
});
