import { z } from 'zod';
import { roundTo, type Unit, formatQuantity as show } from '../../quantity.ts';
import { type Assumption, calculation, measure, notComputable, type WorkStep } from '../calculation.ts';
import { WHEELS, type Wheel } from './corner-weights.ts';

/** A number per wheel where it is known. */
export type KnownWheels = Readonly<Partial<Record<Wheel, number | undefined>>>;

export interface WheelChange {
  wheel: Wheel;
  measured: number;
  baseline: number;
  /** measured less baseline */
  change: number;
  within: boolean;
}

export interface WheelComparison {
  changes: WheelChange[];
  /** wheels where one of the two is not known: nothing is said about them */
  unknown: Wheel[];
}

/** What two careful measurements of an unchanged car differ by. Common practice, no source. */
export const ALIGNMENT_TOLERANCE = { camberDeg: 0.25, toeMm: 1, casterDeg: 0.5 } as const;
export type AlignmentAngle = keyof typeof ALIGNMENT_TOLERANCE;
const ANGLES = ['camberDeg', 'toeMm', 'casterDeg'] as const satisfies readonly AlignmentAngle[];
const UNIT: Readonly<Record<AlignmentAngle, Unit>> = { camberDeg: 'deg', toeMm: 'mm', casterDeg: 'deg' };

/** How far toe may be from the maker's value before a road inspection rejects the car: 49 CFR 570.7(d). */
export const TOE_LIMIT_FACTOR = 1.5;

/**
 * Measured against baseline per wheel, any one unit; within when the change is at most the tolerance. A wheel that
 * is known on neither side is left out; known on one side only, it is `unknown`.
 *
 * Serves ride heights and corner weights as well. Source: common practice. Total, never throws.
 */
export function compareWheels(measured: KnownWheels, baseline: KnownWheels, tolerance: number): WheelComparison {
  const changes: WheelChange[] = [];
  const unknown: Wheel[] = [];
  for (const wheel of WHEELS) {
    const [now, before] = [measured[wheel], baseline[wheel]];
    if (now === undefined && before === undefined) continue;
    if (now === undefined || before === undefined) {
      unknown.push(wheel);
      continue;
    }
    // -1.35 less -1.6 is a hair over 0.25 in binary: readings have no digit beyond the sixth
    const change = roundTo(now - before, 6);
    changes.push({ wheel, measured: now, baseline: before, change, within: Math.abs(change) <= tolerance });
  }
  return { changes, unknown };
}

/**
 * The largest total toe of an axle that passes a road inspection, mm either way, from the maker's value.
 *
 * @see 49 CFR 570.7(d): not more than 1.5 times the maker's value. Total, never throws.
 */
export function toeLimitMm(makerTotalToeMm: number): number {
  return TOE_LIMIT_FACTOR * Math.abs(makerTotalToeMm);
}

/**
 * Left less right of an axle, or the sum for total toe; `undefined` where a side is not known. Never throws. In the
 * unit of the values. Source: arithmetic.
 */
export function acrossAxle(values: KnownWheels, axle: 'front' | 'rear', how: 'difference' | 'sum'): number | undefined {
  const [left, right] = axle === 'front' ? [values.FL, values.FR] : [values.RL, values.RR];
  if (left === undefined || right === undefined) return undefined;
  return roundTo(how === 'sum' ? left + right : left - right, 6);
}

const Reading = z.strictObject({
  camberDeg: measure('deg', 'Camber; negative leans in at the top', { min: -20, max: 20 }).optional(),
  toeMm: measure('mm', 'Toe of this wheel; toe-in positive', { min: -60, max: 60 }).optional(),
  casterDeg: measure('deg', 'Caster', { min: -15, max: 30 }).optional(),
});
const Readings = z.strictObject({
  FL: Reading.optional().describe('Front left'),
  FR: Reading.optional().describe('Front right'),
  RL: Reading.optional().describe('Rear left'),
  RR: Reading.optional().describe('Rear right'),
});
type Readings = z.infer<typeof Readings>;

const Input = z.strictObject({
  measured: Readings.describe('As measured now, per wheel'),
  baseline: Readings.describe('As recorded for the car, per wheel'),
  tolerance: z
    .strictObject({
      camberDeg: measure('deg', 'Camber (0.25 where absent)', { min: 0, max: 5 }).optional(),
      toeMm: measure('mm', 'Toe of one wheel (1 where absent)', { min: 0, max: 20 }).optional(),
      casterDeg: measure('deg', 'Caster (0.5 where absent)', { min: 0, max: 10 }).optional(),
    })
    .optional()
    .describe('Changes up to this are none'),
  makerTotalToeMm: z
    .strictObject({
      front: measure('mm', 'Front', { min: -30, max: 30 }).optional(),
      rear: measure('mm', 'Rear', { min: -30, max: 30 }).optional(),
    })
    .optional()
    .describe("The maker's total toe per axle, for the limit of road inspections"),
});
type Input = z.infer<typeof Input>;

const Change = z.object({
  wheel: z.enum(WHEELS).describe('Wheel'),
  angle: z.enum(ANGLES).describe('What was measured, with its unit'),
  measured: z.number().describe('Now'),
  baseline: z.number().describe('As recorded'),
  change: z.number().describe('Now less recorded'),
  within: z.boolean().describe('The change is at most the tolerance'),
});
const AxleView = z.object({
  totalToeMm: z.number().nullable().describe('Both wheels added, mm; null where one is not known'),
  camberDifferenceDeg: z.number().nullable().describe('Left less right, degrees'),
  casterDifferenceDeg: z.number().nullable().describe('Left less right, degrees'),
  toeLimitMm: z.number().nullable().describe("1.5 times the maker's total toe, mm; null where none was given"),
  toeWithinLimit: z.boolean().nullable().describe('Total toe within that limit; null where either is not known'),
});
const Result = z.object({
  verdict: z
    .enum(['as-recorded', 'changed', 'cannot-tell'])
    .describe(
      '`as-recorded`: everything could be compared and is within; `cannot-tell`: nothing changed, some unknown',
    ),
  changes: z.array(Change).describe('Every comparison'),
  unknown: z
    .array(z.object({ wheel: z.enum(WHEELS).describe('Wheel'), angle: z.enum(ANGLES).describe('What') }))
    .describe('Known on one side only'),
  axles: z
    .object({ front: AxleView.describe('Front axle'), rear: AxleView.describe('Rear axle') })
    .describe('Left against right, as measured'),
});
type Result = z.infer<typeof Result>;

const pick = (readings: Readings, angle: AlignmentAngle): KnownWheels => ({
  FL: readings.FL?.[angle],
  FR: readings.FR?.[angle],
  RL: readings.RL?.[angle],
  RR: readings.RR?.[angle],
});

function viewAxle(input: Input, axle: 'front' | 'rear'): z.infer<typeof AxleView> {
  const totalToe = acrossAxle(pick(input.measured, 'toeMm'), axle, 'sum');
  const maker = input.makerTotalToeMm?.[axle];
  const limit = maker === undefined ? undefined : roundTo(toeLimitMm(maker), 6);
  return {
    totalToeMm: totalToe ?? null,
    camberDifferenceDeg: acrossAxle(pick(input.measured, 'camberDeg'), axle, 'difference') ?? null,
    casterDifferenceDeg: acrossAxle(pick(input.measured, 'casterDeg'), axle, 'difference') ?? null,
    toeLimitMm: limit ?? null,
    toeWithinLimit: limit === undefined || totalToe === undefined ? null : Math.abs(totalToe) <= limit,
  };
}

function compare(input: Input): Result {
  const compared = ANGLES.map((angle) => {
    const tolerance = input.tolerance?.[angle] ?? ALIGNMENT_TOLERANCE[angle];
    return { angle, ...compareWheels(pick(input.measured, angle), pick(input.baseline, angle), tolerance) };
  });
  const changes = compared.flatMap(({ angle, changes }) => changes.map((change) => ({ angle, ...change })));
  const unknown = compared.flatMap(({ angle, unknown }) => unknown.map((wheel) => ({ wheel, angle })));
  if (changes.length === 0)
    throw notComputable(
      '/measured',
      'nothing-to-compare',
      'No wheel has the same angle both measured and in the baseline.',
    );
  const changed = changes.some((change) => !change.within);
  const axles = { front: viewAxle(input, 'front'), rear: viewAxle(input, 'rear') };
  return { verdict: changed ? 'changed' : unknown.length > 0 ? 'cannot-tell' : 'as-recorded', changes, unknown, axles };
}

function assumptionsOf(input: Input): Assumption[] {
  const defaults = ANGLES.filter((angle) => input.tolerance?.[angle] === undefined);
  return [
    ...defaults.map((angle) => ({
      name: `tolerance of ${angle.replace(/Deg|Mm/u, '')}`,
      value: show(ALIGNMENT_TOLERANCE[angle], UNIT[angle]),
      standing: 'common-practice' as const,
    })),
    {
      name: 'state of the car',
      value: 'fuel, driver, tyre pressures and ride height as at the baseline',
      standing: 'common-practice',
    },
  ];
}

function stepsOf(result: Result): WorkStep[] {
  return result.changes.map(({ wheel, angle, measured, baseline, change, within }) => ({
    what: `${angle.replace(/Deg|Mm/u, '')} ${wheel}`,
    formula: 'measured − baseline',
    numbers: `${measured} − ${baseline < 0 ? `(${baseline})` : baseline}`,
    result: `${show(change, UNIT[angle])}, ${within ? 'within' : 'outside'} tolerance`,
  }));
}

/** Wheel alignment against the recorded baseline. */
export const ALIGNMENT_COMPARE = calculation<Input, Result>({
  name: 'alignment-compare',
  title: 'Wheel alignment against the baseline',
  summary: 'What changed per wheel since the recorded set-up, left against right, and toe against the road limit.',
  input: Input,
  result: Result,
  sources: [{ title: "49 CFR 570.7(d): toe not more than 1.5 times the maker's value", standing: 'published' }],
  example: {
    measured: { FL: { camberDeg: -2.1, toeMm: 0.5 }, FR: { camberDeg: -2.6, toeMm: 0.6 } },
    baseline: { FL: { camberDeg: -2, toeMm: 0.5 }, FR: { camberDeg: -2, toeMm: 0.5 } },
    makerTotalToeMm: { front: 1 },
  },
  compute(input) {
    const result = compare(input);
    const change = 'A change that nobody made is a part that bent or moved: find it before the car goes out.';
    const cautions = result.verdict === 'changed' ? [change] : [];
    return { result, steps: stepsOf(result), assumptions: assumptionsOf(input), cautions };
  },
});
