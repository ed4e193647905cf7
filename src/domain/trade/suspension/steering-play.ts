import { z } from 'zod';
import { roundTo } from '../../quantity.ts';
import { type Assumption, calculation, measure, notComputable, type WorkStep } from '../calculation.ts';

const MM_PER_INCH = 25.4;

/**
 * 49 CFR 570.7(a), table 1 (570.60 table 2 is the same): steering wheel diameter and the most play at its rim,
 * inches. Mirrors print the mixed numbers without a space (`21/4` is 2 1/4, never 21 divided by 4).
 */
export const STEERING_LASH_TABLE = [
  { diameterIn: 16, lashIn: 2 },
  { diameterIn: 18, lashIn: 2.25 },
  { diameterIn: 20, lashIn: 2.5 },
  { diameterIn: 22, lashIn: 2.75 },
] as const;

const FIRST_ROW = STEERING_LASH_TABLE[0];
const LAST_ROW = STEERING_LASH_TABLE[3];
/** Steering wheels are measured to the millimetre: 22 in read as 559 mm is still the last row. */
const READING_MM = 0.5;

/** The most play at the rim for one steering wheel, millimetres. */
export interface SteeringLashLimit {
  limitMm: number;
  /** between two rows of the table, which says nothing about such wheels: straight line, our choice */
  interpolated: boolean;
  /** the row below it, for who does not interpolate */
  rowLimitMm: number;
}

/**
 * The most steering play that 49 CFR 570.7(a) table 1 allows for a steering wheel diameter (mm), measured at the rim.
 * The first row covers every wheel of 16 in and less.
 *
 * @throws NotComputable `/wheelDiameter` where the table ends: above 22 in it gives no limit; and for no diameter at all
 * @see 49 CFR 570.7(a), table 1; the line between two rows is ours
 */
export function steeringLashLimit(wheelDiameterMm: number): SteeringLashLimit {
  if (!(wheelDiameterMm > 0))
    throw notComputable('/wheelDiameter', 'not-positive', 'A steering wheel has a diameter above 0.');
  const diameterIn = wheelDiameterMm / MM_PER_INCH;
  if (wheelDiameterMm > LAST_ROW.diameterIn * MM_PER_INCH + READING_MM) throw beyondTable(wheelDiameterMm);
  const upper = STEERING_LASH_TABLE.find((row) => diameterIn <= row.diameterIn) ?? LAST_ROW;
  const lower = STEERING_LASH_TABLE.findLast((row) => row.diameterIn <= diameterIn) ?? FIRST_ROW;
  if (upper.diameterIn <= lower.diameterIn) {
    return { limitMm: upper.lashIn * MM_PER_INCH, interpolated: false, rowLimitMm: upper.lashIn * MM_PER_INCH };
  }
  const share = (diameterIn - lower.diameterIn) / (upper.diameterIn - lower.diameterIn);
  const lashIn = lower.lashIn + share * (upper.lashIn - lower.lashIn);
  return { limitMm: lashIn * MM_PER_INCH, interpolated: true, rowLimitMm: lower.lashIn * MM_PER_INCH };
}

function beyondTable(wheelDiameterMm: number): Error {
  const measured = `${roundTo(wheelDiameterMm, 0)} mm (${roundTo(wheelDiameterMm / MM_PER_INCH, 1)} in)`;
  return notComputable(
    '/wheelDiameter',
    'beyond-table',
    `The table ends at 22 in (558.8 mm) and this wheel measures ${measured}. Use the limit of the local rule; where there is none, the last row (2 3/4 in, 69.9 mm) is the strictest reading.`,
  );
}

/** UK road test, steering wheel of 380 mm: play at the rim in mm above which a car is rejected. */
const UK_WHEEL_MM = 380;
const UK_LIMITS = [
  { rule: 'UK road test, rack and pinion', limitMm: 13 },
  { rule: 'UK road test, several joints between wheel and rack', limitMm: 48 },
  { rule: 'UK road test, no rack and pinion', limitMm: 75 },
] as const;

/**
 * Play at the rim (mm) as it would be at a steering wheel of 380 mm, on which the UK limits stand: the angle stays.
 * Total: not a number where the diameter (mm) is not above 0.
 *
 * @see UK MOT manual 2.2 (secondary source): larger and smaller wheels scale
 */
export const playAtUkWheel = (playMm: number, wheelDiameterMm: number): number =>
  wheelDiameterMm > 0 ? (playMm * UK_WHEEL_MM) / wheelDiameterMm : Number.NaN;

export interface RuleLimit {
  rule: string;
  limitMm: number;
}

/**
 * What other road inspections allow for a steering wheel diameter (mm), limits in mm at the rim: to show how far rules
 * differ. The UK limits are given for 380 mm and scale with the wheel. Never throws.
 *
 * @see UK MOT manual 2.2 (secondary source), Ohio 4501:2-1-08, Maryland 11.22.03.04
 */
export function steeringPlayElsewhere(wheelDiameterMm: number): readonly RuleLimit[] {
  const scaled = UK_LIMITS.map(({ rule, limitMm }) => ({ rule, limitMm: (limitMm * wheelDiameterMm) / UK_WHEEL_MM }));
  const marylandIn = wheelDiameterMm < 21 * MM_PER_INCH ? 3 : 3.5;
  return [
    ...scaled,
    { rule: 'Ohio, power steering', limitMm: 2 * MM_PER_INCH },
    { rule: 'Ohio, manual steering', limitMm: 3 * MM_PER_INCH },
    { rule: 'Maryland', limitMm: marylandIn * MM_PER_INCH },
  ];
}

/**
 * Whether a measured play (mm at the rim) is within a limit (mm). Both are rounded to the tenth that is shown. Never
 * throws. Source: ours, values are judged as they are shown.
 */
export function withinLash(playMm: number, limitMm: number): boolean {
  return roundTo(playMm, 1) <= roundTo(limitMm, 1);
}

const Input = z.strictObject({
  wheelDiameter: measure('mm', 'Diameter of the steering wheel', { min: 150, max: 700 }),
  play: measure('mm', 'How far the rim turns before the front wheels move', { min: 0, max: 500 }).optional(),
});

const Result = z.object({
  limitMm: z.number().describe('Most play at the rim by 49 CFR 570.7(a), mm'),
  interpolated: z.boolean().describe('The wheel is between two rows of the table; the straight line is our choice'),
  rowLimitMm: z.number().describe('Limit of the row below, for who does not interpolate, mm'),
  within: z.boolean().nullable().describe('Whether the play is within limitMm; null when no play was given'),
  marginMm: z.number().nullable().describe('Limit less play, mm; negative when it is too much'),
  elsewhere: z
    .array(
      z.object({
        rule: z.string().describe('The inspection'),
        limitMm: z.number().describe('Its limit for this wheel, mm at the rim'),
      }),
    )
    .describe('What other road inspections allow: limits differ, so yours is a setting'),
});

const INTERPOLATION: Assumption = {
  name: 'Between two rows',
  value: 'straight line between the rows; the table itself says nothing about wheels in between',
  standing: 'derived',
};

function workSteps(wheelDiameterMm: number, limit: SteeringLashLimit): WorkStep[] {
  const diameterIn = roundTo(wheelDiameterMm / MM_PER_INCH, 2);
  const limitIn = roundTo(limit.limitMm / MM_PER_INCH, 3);
  const inLine = diameterIn > FIRST_ROW.diameterIn && limit.interpolated;
  return [
    {
      what: 'Steering wheel in inches',
      formula: 'd = diameter / 25.4',
      numbers: `${roundTo(wheelDiameterMm, 1)} mm / 25.4`,
      result: `${diameterIn} in`,
    },
    {
      what: 'Most play at the rim',
      formula: inLine ? 'limit = 2 in + (d − 16 in)·(1/4 in)/(2 in)' : 'the row of the table',
      numbers: inLine ? `2 + (${diameterIn} − 16)·0.125` : `${diameterIn} in`,
      result: `${limitIn} in = ${roundTo(limit.limitMm, 2)} mm`,
    },
  ];
}

/** `steering-play`: the most play at the steering wheel's rim, and a measured play against it. */
export const STEERING_PLAY = calculation({
  name: 'steering-play',
  title: 'Steering free play against the table',
  summary: 'Looks up the most play at the rim for the diameter of the steering wheel, and compares a measured play.',
  input: Input,
  result: Result,
  sources: [
    { title: '49 CFR 570.7(a), table 1', standing: 'published' },
    { title: 'Ohio Administrative Code 4501:2-1-08; Maryland 11.22.03.04', standing: 'published' },
    { title: 'UK MOT inspection manual, section 2.2', standing: 'secondary' },
  ],
  example: { wheelDiameter: { value: 18, unit: 'in' }, play: { value: 30, unit: 'mm' } },
  compute({ wheelDiameter, play }) {
    const limit = steeringLashLimit(wheelDiameter);
    return {
      result: {
        limitMm: roundTo(limit.limitMm, 2),
        interpolated: limit.interpolated,
        rowLimitMm: roundTo(limit.rowLimitMm, 2),
        within: play === undefined ? null : withinLash(play, limit.limitMm),
        marginMm: play === undefined ? null : roundTo(limit.limitMm - play, 1),
        elsewhere: steeringPlayElsewhere(wheelDiameter).map(({ rule, limitMm }) => ({
          rule,
          limitMm: roundTo(limitMm, 1),
        })),
      },
      steps: workSteps(wheelDiameter, limit),
      assumptions: limit.interpolated ? [INTERPOLATION] : [],
      cautions: ['Measure with the wheels straight ahead, and with the engine running if the steering is assisted.'],
    };
  },
});
