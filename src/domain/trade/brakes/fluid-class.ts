import { z } from 'zod';
import { CAUTIONS } from '../../cautions.ts';
import { convert, roundTo } from '../../quantity.ts';
import { type Assumption, calculation, measure, type Source, NotComputable, type WorkStep } from '../calculation.ts';
import {
  findBelowMinimum,
  findFluidMinimum,
  findLabelFaults,
  FLUID_CLASSES,
  FLUID_MINIMUMS,
  type FluidMinimum,
  type LabelPoint,
  labelPointC,
} from './fluid-boiling.ts';

/** What is known of a fluid. All °C. */
export interface FluidFacts {
  fluidClass?: string;
  labelDryC?: number;
  labelWetC?: number;
  measuredC?: number;
}

/** The boiling point to plan with, °C, and what it is taken from. */
export interface WorkingBoilingPoint {
  celsius: number;
  from: 'measured' | 'label-wet' | 'class-wet-minimum';
}

/**
 * The boiling point in °C to plan with: measured, else the label's wet one, else the wet minimum of the class.
 * `undefined` when none is known. Never the dry one: fluid in a car has taken up water. Never throws. Source: common
 * practice; minimums as `FLUID_MINIMUMS`.
 */
export function workingBoilingPoint(facts: FluidFacts): WorkingBoilingPoint | undefined {
  if (facts.measuredC !== undefined) return { celsius: facts.measuredC, from: 'measured' };
  if (facts.labelWetC !== undefined) return { celsius: facts.labelWetC, from: 'label-wet' };
  const minimum = facts.fluidClass === undefined ? undefined : findFluidMinimum(facts.fluidClass);
  return minimum === undefined ? undefined : { celsius: minimum.wetC, from: 'class-wet-minimum' };
}

/**
 * Whether a label (°C) can be that of a fluid of its class: nothing below the minimums, wet below dry. `undefined` when
 * the class has no minimums or the label gives nothing. Never throws.
 *
 * @see 49 CFR 571.116 S5.1.1, S5.1.2 (secondary); ISO 4925:2020 (from memory)
 */
export function fluidLabelPlausible({ fluidClass, labelDryC, labelWetC }: FluidFacts): boolean | undefined {
  const minimum = fluidClass === undefined ? undefined : findFluidMinimum(fluidClass);
  if (minimum === undefined || (labelDryC === undefined && labelWetC === undefined)) return undefined;
  if (labelDryC !== undefined && labelWetC !== undefined && labelWetC >= labelDryC) return false;
  return findBelowMinimum(minimum, labelDryC, labelWetC).length === 0;
}

const SOURCES: readonly Source[] = [
  { title: '49 CFR 571.116 S5.1.1 and S5.1.2: boiling points of DOT 3, 4, 5 and 5.1', standing: 'secondary' },
  { title: 'ISO 4925:2020: boiling points of classes 3, 4, 5-1, 6 and 7', standing: 'from-memory' },
];

const RANGE = { min: 60, max: 400 };
const labelPoint = (what: string) =>
  z
    .strictObject({
      c: z.number().min(60).max(400).describe('As printed in °C').optional(),
      f: z.number().min(140).max(752).describe('As printed in °F').optional(),
    })
    .describe(what);
const input = z.strictObject({
  fluidClass: z.enum(FLUID_CLASSES).describe('Grade of FMVSS 116 or class of ISO 4925'),
  label: z
    .strictObject({
      dry: labelPoint('Boiling point of fresh fluid').default({}),
      wet: labelPoint('Boiling point of wet fluid').default({}),
    })
    .describe('Boiling points printed on the container')
    .default({ dry: {}, wet: {} }),
  measuredC: measure('°C', 'Boiling point measured with a tester', RANGE).optional(),
  neededC: measure('°C', 'Boiling point the venue and car ask for', { min: 60, max: 450 }).optional(),
  minimumDryC: measure('°C', 'Dry minimum of the class, in place of ours', RANGE).optional(),
  minimumWetC: measure('°C', 'Wet minimum of the class, in place of ours', RANGE).optional(),
});
type Input = z.infer<typeof input>;

const result = z.object({
  minimumDryC: z.number().describe('Least boiling point of fresh fluid of the class, °C'),
  minimumDryF: z.number().describe('The same, °F'),
  minimumWetC: z.number().describe('Least boiling point of wet fluid of the class, °C'),
  minimumWetF: z.number().describe('The same, °F'),
  viscosityAtMinus40: z.number().describe('Most kinematic viscosity at −40 °C of the class, mm²/s'),
  silicone: z.boolean().describe('Silicone fluid: mixes with no other class'),
  label: z
    .enum(['not-given', 'plausible', 'below-class-minimum'])
    .describe('Whether the label can be that of a fluid of this class'),
  belowMinimum: z.array(z.enum(['dry', 'wet'])).describe('What of the label is below the minimum of the class'),
  measured: z
    .enum(['not-given', 'as-fresh', 'used', 'below-wet-minimum'])
    .describe('Measured boiling point against the class: not below dry, between wet and dry, below wet'),
  boilsAtC: z.number().describe('Boiling point to plan with, °C: measured, else wet of the label, else of the class'),
  boilsAtFrom: z.enum(['measured', 'label-wet', 'class-wet-minimum']).describe('What that boiling point is taken from'),
  marginC: z.number().nullable().describe('Boiling point less what is needed, °C; null where no need is given'),
  enough: z
    .boolean()
    .nullable()
    .describe('Boils at what is needed or above, and measured or with a plausible label; null where no need is given'),
});
type Result = z.infer<typeof result>;

const fahrenheit = (celsius: number): number => roundTo(convert(celsius, '°C', '°F') ?? Number.NaN, 0);

function judgeMeasured(measuredC: number | undefined, minimum: FluidMinimum): Result['measured'] {
  if (measuredC === undefined) return 'not-given';
  if (measuredC < minimum.wetC) return 'below-wet-minimum';
  return measuredC >= minimum.dryC ? 'as-fresh' : 'used';
}

function minimumOf({ fluidClass, minimumDryC, minimumWetC }: Input): FluidMinimum {
  const known: FluidMinimum = FLUID_MINIMUMS[fluidClass];
  const minimum = { ...known, dryC: minimumDryC ?? known.dryC, wetC: minimumWetC ?? known.wetC };
  if (minimum.wetC < minimum.dryC) return minimum;
  const detail = `The wet minimum (${minimum.wetC} °C) is not below the dry one (${minimum.dryC} °C).`;
  throw new NotComputable([{ pointer: '/minimumWetC', code: 'wet-above-dry', detail }]);
}

function assumptionsFor(asked: Input, from: WorkingBoilingPoint['from']): Assumption[] {
  const { standing, dryC, wetC, viscosityAtMinus40 } = FLUID_MINIMUMS[asked.fluidClass];
  const made: Assumption[] = [{ name: 'viscosityAtMinus40', value: `${viscosityAtMinus40} mm²/s`, standing }];
  if (asked.minimumDryC === undefined) made.push({ name: 'minimumDryC', value: `${dryC} °C`, standing });
  if (asked.minimumWetC === undefined) made.push({ name: 'minimumWetC', value: `${wetC} °C`, standing });
  if (from !== 'measured') {
    made.push({ name: 'state of the fluid', value: 'as wet as the standard makes it', standing: 'common-practice' });
  }
  return made;
}

function labelStep({ label }: Input, worked: Result): WorkStep[] {
  if (worked.label === 'not-given') return [];
  const show = (point: LabelPoint): string => {
    const celsius = labelPointC(point);
    return celsius === undefined ? 'none' : `${roundTo(celsius, 1)} °C`;
  };
  return [
    {
      what: 'can the label be of this class',
      formula: 'dry and wet of the label ≥ minimums of the class, to 1 °F',
      numbers: `dry ${show(label.dry)} ≥ ${worked.minimumDryC} °C, wet ${show(label.wet)} ≥ ${worked.minimumWetC} °C`,
      result: worked.label,
    },
  ];
}

function explain(asked: Input, worked: Result): WorkStep[] {
  const { neededC, measuredC } = asked;
  const steps: WorkStep[] = [
    ...labelStep(asked, worked),
    {
      what: 'boiling point to plan with',
      formula: 'measured, else wet of the label, else wet minimum of the class',
      numbers: `${worked.boilsAtFrom}${measuredC === undefined ? '' : `: ${measuredC} °C`}`,
      result: `${worked.boilsAtC} °C`,
    },
  ];
  if (neededC === undefined) return steps;
  return [
    ...steps,
    {
      what: 'margin',
      formula: 'boiling point − needed',
      numbers: `${worked.boilsAtC} °C − ${neededC} °C`,
      result: `${worked.marginC} °C`,
    },
  ];
}

/** A brake fluid's class, label and measured boiling point against each other and against what is needed. */
export const FLUID_CLASS = calculation({
  name: 'fluid-class',
  title: 'Brake fluid class and boiling point',
  summary: 'Minimums of the class, whether the label can be right, and whether the fluid boils high enough.',
  input,
  result,
  sources: SOURCES,
  example: { fluidClass: 'DOT 4', label: { dry: { c: 312, f: 594 }, wet: { c: 204, f: 399 } }, neededC: 190 },
  compute(asked) {
    const faults = findLabelFaults(asked.label.dry, asked.label.wet);
    if (faults.length > 0) throw new NotComputable(faults);
    const minimum = minimumOf(asked);
    const [labelDryC, labelWetC] = [labelPointC(asked.label.dry), labelPointC(asked.label.wet)];
    const belowMinimum = findBelowMinimum(minimum, labelDryC, labelWetC);
    const given = labelDryC !== undefined || labelWetC !== undefined;
    const working = workingBoilingPoint({ labelWetC, measuredC: asked.measuredC }) ?? {
      celsius: minimum.wetC,
      from: 'class-wet-minimum' as const,
    };
    const marginC = asked.neededC === undefined ? null : roundTo(working.celsius - asked.neededC, 1);
    const worked: Result = {
      minimumDryC: minimum.dryC,
      minimumDryF: fahrenheit(minimum.dryC),
      minimumWetC: minimum.wetC,
      minimumWetF: fahrenheit(minimum.wetC),
      viscosityAtMinus40: minimum.viscosityAtMinus40,
      silicone: minimum.silicone,
      label: judgeLabel(given, belowMinimum),
      belowMinimum,
      measured: judgeMeasured(asked.measuredC, minimum),
      boilsAtC: roundTo(working.celsius, 1),
      boilsAtFrom: working.from,
      marginC,
      // a label that cannot be right promises nothing
      enough: marginC === null ? null : marginC >= 0 && (asked.measuredC !== undefined || belowMinimum.length === 0),
    };
    return {
      result: worked,
      steps: explain(asked, worked),
      assumptions: assumptionsFor(asked, working.from),
      cautions: [CAUTIONS['brake-fluid'].text, ...(minimum.silicone ? [SILICONE] : [])],
    };
  },
});

const SILICONE = 'Silicone fluid mixes with no other class: the whole system is one or the other.';

function judgeLabel(given: boolean, belowMinimum: readonly string[]): Result['label'] {
  if (!given) return 'not-given';
  return belowMinimum.length === 0 ? 'plausible' : 'below-class-minimum';
}
