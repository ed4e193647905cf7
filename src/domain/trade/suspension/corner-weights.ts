import { z } from 'zod';
import { CAUTIONS } from '../../cautions.ts';
import { formatQuantity as show, roundTo } from '../../quantity.ts';
import {
  type Assumption,
  calculation,
  measure,
  notComputable,
  type TradeFault,
  NotComputable,
} from '../calculation.ts';

export const WHEELS = ['FL', 'FR', 'RL', 'RR'] as const;
export type Wheel = (typeof WHEELS)[number];
/** One number per wheel, seen from the driver's seat. */
export type FourWheels = Readonly<Record<Wheel, number>>;

export interface CornerSplit {
  totalKg: number;
  frontPercent: number;
  leftPercent: number;
  /** share of front right + rear left; the other diagonal is 100 less this */
  crossPercent: number;
  frontRightRearLeftKg: number;
  frontLeftRearRightKg: number;
}

/** Shares no car that stands on four scales leaves, percent. Common practice, no source. */
export const CORNER_BOUNDS = { frontPercent: [25, 75], leftPercent: [35, 65], crossPercent: [35, 65] } as const;
export type CornerBounds = Readonly<Record<keyof typeof CORNER_BOUNDS, readonly [number, number]>>;

/** What scales are trusted to, percent of the reading. One page on scale set-up, a secondary source. */
export const SCALE_TOLERANCE_PERCENT = 1;

/**
 * Total, shares and diagonals of four scale readings in one unit of mass (kg).
 *
 * Cross is front right + rear left over the total: some pages put the other diagonal first, and 53.57 % by one is
 * 46.43 % by the other.
 *
 * @throws NotComputable naming each wheel that is not a positive number
 * @see short-track set-up literature (secondary)
 */
export function cornerWeights(weights: FourWheels): CornerSplit {
  const faults = WHEELS.filter((wheel) => !(Number.isFinite(weights[wheel]) && weights[wheel] > 0)).map((wheel) => ({
    pointer: `/${wheel}`,
    code: 'not-positive',
    detail: 'A wheel on its scale shows more than nothing.',
  }));
  if (faults.length > 0) throw new NotComputable(faults);
  const { FL, FR, RL, RR } = weights;
  const totalKg = FL + FR + RL + RR;
  return {
    totalKg,
    frontPercent: (100 * (FL + FR)) / totalKg,
    leftPercent: (100 * (FL + RL)) / totalKg,
    crossPercent: (100 * (FR + RL)) / totalKg,
    frontRightRearLeftKg: FR + RL,
    frontLeftRearRightKg: FL + RR,
  };
}

/**
 * What to put on front right and rear left, and to take off the other two, to reach a cross share: kg per wheel,
 * negative the other way round. Front and left shares stay as they are.
 *
 * Source: arithmetic. Total, never throws.
 */
export function cornerChangeKg(split: CornerSplit, targetCrossPercent: number): number {
  return ((targetCrossPercent - split.crossPercent) / 100) * (split.totalKg / 2);
}

/**
 * How far the cross share can be off, in percentage points, when each scale is off by `tolerancePercent` of its
 * reading, one diagonal high and the other low.
 *
 * Source: arithmetic. Total, never throws.
 */
export function crossUncertaintyPercent(crossPercent: number, tolerancePercent: number): number {
  const share = crossPercent / 100;
  return 2 * tolerancePercent * share * (1 - share);
}

/**
 * Readings that no car on four level scales gives; empty when plausible. Bounds in percent, inclusive.
 *
 * Source: common practice. Total, never throws.
 */
export function cornerFaults(split: CornerSplit, bounds: CornerBounds = CORNER_BOUNDS): TradeFault[] {
  const named = [
    ['frontPercent', 'front axle', '/FL'],
    ['leftPercent', 'left side', '/FL'],
    ['crossPercent', 'front right with rear left', '/FR'],
  ] as const;
  return named.flatMap(([key, what, pointer]) => {
    const [lowest, highest] = bounds[key];
    if (split[key] >= lowest && split[key] <= highest) return [];
    const detail = `The ${what} carries ${show(roundTo(split[key], 1), '%')} of the car; cars lie between ${lowest} and ${highest} %. A pad is read wrongly, not zeroed or swapped.`;
    return [{ pointer, code: 'implausible', detail }];
  });
}

const corner = (name: string) => measure('kg', `Reading of the scale under the ${name} wheel`, { min: 1, max: 2500 });

const Input = z.strictObject({
  FL: corner('front left'),
  FR: corner('front right'),
  RL: corner('rear left'),
  RR: corner('rear right'),
  recordedMassKg: measure('kg', 'Mass of the car as recorded, in the same state', { min: 50, max: 5000 }).optional(),
  recordedMassTolerancePercent: measure('%', 'How far the total may be from the recorded mass (10 where absent)', {
    min: 0,
    max: 100,
  }).optional(),
  targetCrossPercent: measure('%', 'Cross share wanted (50 where absent)', { min: 40, max: 60 }).optional(),
  scaleTolerancePercent: measure('%', 'What a scale may be off, of its reading (1 where absent)', {
    min: 0,
    max: 10,
  }).optional(),
});
type Input = z.infer<typeof Input>;

const Result = z.object({
  totalKg: z.number().describe('All four readings, kg'),
  frontPercent: z.number().describe('Front axle, % of the total'),
  rearPercent: z.number().describe('Rear axle, % of the total'),
  leftPercent: z.number().describe('Left side, % of the total'),
  rightPercent: z.number().describe('Right side, % of the total'),
  crossPercent: z.number().describe('Front right + rear left, % of the total'),
  crossUncertaintyPercent: z.number().describe('How far the cross share can be off, ± percentage points'),
  frontRightRearLeftKg: z.number().describe('Diagonal front right + rear left, kg'),
  frontLeftRearRightKg: z.number().describe('Diagonal front left + rear right, kg'),
  changePerWheelKg: z
    .number()
    .describe(
      'To reach the cross share wanted: kg onto front right and rear left, off the other two; negative: reverse',
    ),
});
type Result = z.infer<typeof Result>;

function assertPlausible(input: Input, split: CornerSplit, massTolerance: number): void {
  const faults = cornerFaults(split);
  const recorded = input.recordedMassKg;
  if (recorded !== undefined && Math.abs(split.totalKg - recorded) > (recorded * massTolerance) / 100) {
    const detail = `The scales add up to ${show(roundTo(split.totalKg, 1), 'kg')}, more than ${massTolerance} % from the recorded ${show(recorded, 'kg')}: weigh the car as it runs, or correct the record.`;
    faults.push({ pointer: '/recordedMassKg', code: 'disagrees', detail });
  }
  if (faults.length > 0) throw new NotComputable(faults);
}

function assumptionsOf(input: Input): Assumption[] {
  const list: Assumption[] = [
    { name: 'pads', value: 'level with each other to 3 mm (1/8 in)', standing: 'secondary' },
    { name: 'cross', value: 'front right + rear left over the total', standing: 'secondary' },
    { name: 'plausible shares', value: 'front 25 to 75 %, left and cross 35 to 65 %', standing: 'common-practice' },
  ];
  if (input.scaleTolerancePercent === undefined)
    list.push({ name: 'scale tolerance', value: `${SCALE_TOLERANCE_PERCENT} % of the reading`, standing: 'secondary' });
  if (input.targetCrossPercent === undefined)
    list.push({ name: 'cross share wanted', value: '50 %', standing: 'common-practice' });
  if (input.recordedMassKg !== undefined && input.recordedMassTolerancePercent === undefined)
    list.push({ name: 'distance from the recorded mass', value: '10 %', standing: 'common-practice' });
  return list;
}

function present(split: CornerSplit, uncertainty: number, change: number): Result {
  return {
    totalKg: roundTo(split.totalKg, 1),
    frontPercent: roundTo(split.frontPercent, 1),
    rearPercent: roundTo(100 - split.frontPercent, 1),
    leftPercent: roundTo(split.leftPercent, 1),
    rightPercent: roundTo(100 - split.leftPercent, 1),
    crossPercent: roundTo(split.crossPercent, 1),
    crossUncertaintyPercent: roundTo(uncertainty, 1),
    frontRightRearLeftKg: roundTo(split.frontRightRearLeftKg, 1),
    frontLeftRearRightKg: roundTo(split.frontLeftRearRightKg, 1),
    changePerWheelKg: roundTo(change, 1),
  };
}

/** Corner weights: total, shares, diagonals, and what to move to reach a cross share. */
export const CORNER_WEIGHTS = calculation<Input, Result>({
  name: 'corner-weights',
  title: 'Corner weights',
  summary: 'Total, front, left and cross share of four scale readings, with what to move to reach a cross share.',
  input: Input,
  result: Result,
  sources: [
    { title: 'Short-track set-up literature: definitions of the shares, scale tolerance', standing: 'secondary' },
  ],
  example: { FL: 331, FR: 318, RL: 302, RR: 309, recordedMassKg: 1255 },
  compute(input) {
    const split = cornerWeights(input);
    if (input.recordedMassTolerancePercent !== undefined && input.recordedMassKg === undefined)
      throw notComputable(
        '/recordedMassTolerancePercent',
        'without-mass',
        'Give recordedMassKg with it, or leave it out.',
      );
    assertPlausible(input, split, input.recordedMassTolerancePercent ?? 10);
    const target = input.targetCrossPercent ?? 50;
    const tolerance = input.scaleTolerancePercent ?? SCALE_TOLERANCE_PERCENT;
    const result = present(
      split,
      crossUncertaintyPercent(split.crossPercent, tolerance),
      cornerChangeKg(split, target),
    );
    const { FL, FR, RL, RR } = input;
    return {
      result,
      steps: [
        {
          what: 'Total',
          formula: 'W = FL + FR + RL + RR',
          numbers: `${FL} + ${FR} + ${RL} + ${RR}`,
          result: show(result.totalKg, 'kg'),
        },
        {
          what: 'Front share',
          formula: '(FL + FR)/W',
          numbers: `(${FL} + ${FR})/${result.totalKg}`,
          result: show(result.frontPercent, '%'),
        },
        {
          what: 'Left share',
          formula: '(FL + RL)/W',
          numbers: `(${FL} + ${RL})/${result.totalKg}`,
          result: show(result.leftPercent, '%'),
        },
        {
          what: 'Cross share',
          formula: '(FR + RL)/W',
          numbers: `(${FR} + ${RL})/${result.totalKg}`,
          result: show(result.crossPercent, '%'),
        },
        {
          what: 'Change per wheel',
          formula: '(target/100·W − (FR + RL))/2',
          numbers: `(${target}/100·${result.totalKg} − ${result.frontRightRearLeftKg})/2`,
          result: show(result.changePerWheelKg, 'kg'),
        },
      ],
      assumptions: assumptionsOf(input),
      cautions: [CAUTIONS['corner-scales'].text],
    };
  },
});
