import { z } from 'zod';
import { CAUTIONS } from '../../cautions.ts';
import { formatQuantity, roundTo, type Unit } from '../../quantity.ts';
import { DUTY_CLASSES, type DutyClass } from './brake-heat-duty.ts';
import { type Assumption, calculation, measure, notComputable, type Worked, type WorkStep } from '../calculation.ts';

/** From harmless to dangerous. */
export const ROTOR_CRACKS = ['none', 'surface-checks', 'opening', 'to-edge'] as const;
export type RotorCracks = (typeof ROTOR_CRACKS)[number];

/** What a finding asks for, from nothing to not driving. */
const EFFECTS = ['none', 'advise', 'inspect', 'bar'] as const;
export type RotorEffect = (typeof EFFECTS)[number];

/** One thing looked at on a rotor. */
export interface RotorFinding {
  what: 'thickness' | 'cracks' | 'weight' | 'edge-chips';
  effect: RotorEffect;
  detail: string;
}

/** Largest chip at the edge of a carbon rotor that needs no look, mm; common practice, no source. */
export const DEFAULT_EDGE_CHIP_LIMIT_MM = 3;

/** mm; what was not measured or is not known is left out */
export interface IronRotor {
  thicknessMm?: number | undefined;
  minimumThicknessMm?: number | undefined;
  cracks?: RotorCracks | undefined;
  /** duty class of the venue; not known counts as heavy */
  dutyClass?: DutyClass | undefined;
}

/** g and mm; what was not measured or is not known is left out */
export interface CarbonRotor {
  weightG?: number | undefined;
  minimumWeightG?: number | undefined;
  edgeChipsMm?: number | undefined;
  edgeChipLimitMm?: number | undefined;
}

/**
 * An iron rotor: thickness (mm, compared at 0.01 mm) at or above the stamped minimum, and its cracks. What is not known
 * bars: it cannot read as fit. Never throws.
 *
 * @see 49 CFR 570.59(b): not thinner than the embossed minimum; grading of cracks: common practice
 */
export function checkIronRotor(rotor: IronRotor): RotorFinding[] {
  const { thicknessMm, minimumThicknessMm } = rotor;
  const thickness = againstStamp(thicknessMm, minimumThicknessMm, { what: 'thickness', unit: 'mm', decimals: 2 });
  return [thickness, crackFinding(rotor)];
}

function crackFinding({ cracks, dutyClass }: IronRotor): RotorFinding {
  const finding = (effect: RotorEffect, detail: string): RotorFinding => ({ what: 'cracks', effect, detail });
  switch (cracks) {
    case 'none':
      return finding('none', 'no cracks');
    case 'surface-checks': {
      const easy = dutyClass === 'light' || dutyClass === 'medium';
      if (easy) return finding('advise', `surface checks on ${dutyClass} duty: look again after every session`);
      return finding('inspect', `surface checks on ${dutyClass ?? 'unknown'} duty: the line must look`);
    }
    case 'opening':
      return finding('bar', 'a crack is opening: the rotor can burst');
    case 'to-edge':
      return finding('bar', 'a crack reaches the edge: the rotor can burst');
    case undefined:
      return finding('bar', 'nobody has looked for cracks');
  }
}

/**
 * A carbon rotor: weight (g, compared whole) at or above the stamped minimum, and its largest edge chip (mm, compared
 * at 0.1 mm). What is not known bars, a chip not measured asks for a look. Never throws.
 *
 * @see common practice: carbon wears by oxidising, so it gets light before it gets thin
 */
export function checkCarbonRotor(rotor: CarbonRotor): RotorFinding[] {
  const { weightG, minimumWeightG, edgeChipsMm, edgeChipLimitMm = DEFAULT_EDGE_CHIP_LIMIT_MM } = rotor;
  const weight = againstStamp(weightG, minimumWeightG, { what: 'weight', unit: 'g', decimals: 0 });
  const chips = (effect: RotorEffect, detail: string): RotorFinding => ({ what: 'edge-chips', effect, detail });
  if (edgeChipsMm === undefined || Number.isNaN(edgeChipsMm)) {
    return [weight, chips('inspect', 'the edges were not looked at')];
  }
  const small = roundTo(edgeChipsMm, 1) <= roundTo(edgeChipLimitMm, 1);
  const told = `largest chip ${formatQuantity(edgeChipsMm, 'mm')}, limit ${formatQuantity(edgeChipLimitMm, 'mm')}`;
  return [weight, chips(small ? 'none' : 'inspect', told)];
}

function againstStamp(
  measured: number | undefined,
  minimum: number | undefined,
  { what, unit, decimals }: { what: 'thickness' | 'weight'; unit: Unit; decimals: number },
): RotorFinding {
  if (measured === undefined || Number.isNaN(measured)) return { what, effect: 'bar', detail: `${what} not measured` };
  if (minimum === undefined || !(minimum > 0)) {
    return { what, effect: 'bar', detail: `the stamped minimum ${what} is not known` };
  }
  const told = `${formatQuantity(measured, unit)}, stamped minimum ${formatQuantity(minimum, unit)}`;
  const enough = roundTo(measured, decimals) >= roundTo(minimum, decimals);
  return { what, effect: enough ? 'none' : 'bar', detail: told };
}

/**
 * The strongest effect of the findings; `none` for none. No units. Never throws. Source: ours, from bar down to none.
 */
export const strongestEffect = (findings: readonly RotorFinding[]): RotorEffect =>
  EFFECTS[Math.max(0, ...findings.map(({ effect }) => EFFECTS.indexOf(effect)))] ?? 'bar';

const WHEELS = ['FL', 'FR', 'RL', 'RR'] as const;
const position = z.enum(WHEELS).describe('Wheel');

const Iron = z.strictObject({
  position,
  material: z.literal('iron').describe('Grey iron'),
  thicknessMm: measure('mm', 'Thickness at the thinnest place of the swept face', { min: 0, max: 80 }),
  minimumThicknessMm: measure('mm', 'Minimum stamped on the rotor', { min: 0.1, max: 80 }).optional(),
  cracks: z.enum(ROTOR_CRACKS).describe('Worst crack found'),
});
const Carbon = z.strictObject({
  position,
  material: z.literal('carbon').describe('Carbon fibre in carbon or in ceramic'),
  weightG: measure('g', 'Weight, clean and dry', { min: 0, max: 40_000 }),
  minimumWeightG: measure('g', 'Minimum weight stamped on the rotor', { min: 1, max: 40_000 }).optional(),
  edgeChipsMm: measure('mm', 'Longest side of the largest chip at an edge or hole; 0 for none', { min: 0, max: 200 }),
});

const Input = z.strictObject({
  rotors: z
    .array(z.discriminatedUnion('material', [Iron, Carbon]))
    .min(1)
    .max(WHEELS.length)
    .describe('Rotors to look at'),
  dutyClass: z.enum(DUTY_CLASSES).optional().describe('Duty class of the venue; unknown counts as heavy'),
  edgeChipLimitMm: measure('mm', `Largest chip allowed; ${DEFAULT_EDGE_CHIP_LIMIT_MM} mm where not given`, {
    min: 0,
    max: 100,
  }).optional(),
});
type Input = z.infer<typeof Input>;

const effect = z.enum(EFFECTS);
const Result = z.object({
  effect: effect.describe('The strongest of all rotors: none, advise, inspect (the line looks), bar (do not drive)'),
  rotors: z
    .array(
      z.object({
        position,
        effect: effect.describe('The strongest of this rotor'),
        marginMm: z.number().optional().describe('Iron: thickness above the stamped minimum, mm'),
        marginG: z.number().optional().describe('Carbon: weight above the stamped minimum, g'),
        findings: z
          .array(
            z.object({
              what: z.enum(['thickness', 'cracks', 'weight', 'edge-chips']).describe('What was looked at'),
              effect: effect.describe('What it asks for'),
              detail: z.string().describe('In words'),
            }),
          )
          .describe('One per thing looked at'),
      }),
    )
    .describe('In the order given'),
});
type Result = z.infer<typeof Result>;

/**
 * Rotors against their stamped minimum, cracks and chips.
 *
 * @see `checkIronRotor`, `checkCarbonRotor`
 */
export const ROTOR_CHECK = calculation<Input, Result>({
  name: 'rotor-check',
  title: 'Brake rotor check',
  summary: 'Iron: thickness against the stamped minimum, cracks. Carbon: weight against the stamped minimum, chips.',
  input: Input,
  result: Result,
  sources: [
    { title: '49 CFR 570.59(b): a disc is not thinner than its embossed minimum', standing: 'published' },
    { title: 'Grading of cracks and chips, weight of carbon rotors', standing: 'common-practice' },
  ],
  example: {
    rotors: [
      { position: 'FL', material: 'iron', thicknessMm: 27.4, minimumThicknessMm: 26, cracks: 'surface-checks' },
      { position: 'FR', material: 'iron', thicknessMm: 27.5, minimumThicknessMm: 26, cracks: 'none' },
    ],
    dutyClass: 'medium',
  },
  compute,
});

function compute(input: Input): Worked<Result> {
  const { rotors } = input;
  const again = rotors.findIndex(({ position }, i) => rotors.findIndex((rotor) => rotor.position === position) < i);
  if (again !== -1) {
    throw notComputable(`/rotors/${again}/position`, 'duplicate', `${rotors[again]?.position} is given twice`);
  }
  const checked = rotors.map((rotor) => checkOne(rotor, input));
  const findings = checked.flatMap((rotor) => rotor.findings);
  return {
    result: { effect: strongestEffect(findings), rotors: checked },
    steps: rotors.flatMap((rotor) => marginStep(rotor)),
    assumptions: assumptions(input),
    cautions: [
      'Rotors are replaced in pairs: both wheels of an axle.',
      CAUTIONS['brake-dust'].text,
      CAUTIONS['hot-parts'].text,
      CAUTIONS.lifting.text,
    ],
  };
}

type OneRotor = Input['rotors'][number];

function checkOne(rotor: OneRotor, { dutyClass, edgeChipLimitMm }: Input): Result['rotors'][number] {
  const findings =
    rotor.material === 'iron'
      ? checkIronRotor({ ...rotor, dutyClass })
      : checkCarbonRotor({ ...rotor, edgeChipLimitMm });
  const margin = marginOf(rotor);
  const key = rotor.material === 'iron' ? 'marginMm' : 'marginG';
  const view = { position: rotor.position, effect: strongestEffect(findings), findings };
  return margin === undefined ? view : { ...view, [key]: margin };
}

function marginOf(rotor: OneRotor): number | undefined {
  const [measured, minimum, decimals] =
    rotor.material === 'iron'
      ? [rotor.thicknessMm, rotor.minimumThicknessMm, 2]
      : [rotor.weightG, rotor.minimumWeightG, 0];
  return minimum === undefined ? undefined : roundTo(measured - minimum, decimals);
}

function marginStep(rotor: OneRotor): WorkStep[] {
  const margin = marginOf(rotor);
  if (margin === undefined) return [];
  const [measured, minimum, unit] =
    rotor.material === 'iron'
      ? ([rotor.thicknessMm, rotor.minimumThicknessMm ?? 0, 'mm'] as const)
      : ([rotor.weightG, rotor.minimumWeightG ?? 0, 'g'] as const);
  return [
    {
      what: `${rotor.position}: above the stamped minimum`,
      formula: 'measured − stamped minimum',
      numbers: `${formatQuantity(measured, unit)} − ${formatQuantity(minimum, unit)}`,
      result: formatQuantity(margin, unit),
    },
  ];
}

function assumptions({ rotors, dutyClass, edgeChipLimitMm }: Input): Assumption[] {
  const carbon = rotors.some(({ material }) => material === 'carbon');
  const iron = rotors.some(({ material }) => material === 'iron');
  const common = (name: string, value: string): Assumption => ({ name, value, standing: 'common-practice' });
  return [
    ...(iron && dutyClass === undefined ? [common('dutyClass', 'not known: counts as heavy')] : []),
    ...(carbon && edgeChipLimitMm === undefined
      ? [common('edgeChipLimitMm', formatQuantity(DEFAULT_EDGE_CHIP_LIMIT_MM, 'mm'))]
      : []),
  ];
}
