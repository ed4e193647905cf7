import { z } from 'zod';
import { roundTo } from '../../quantity.ts';
import { calculation, measure, notComputable, type Source } from '../calculation.ts';
import { FREEZING, FREEZING_TABLES, GLYCOLS, type Glycol, glycolPercentsFor } from './coolant-glycol.ts';

/** The contents in % between which a mix does not freeze above a temperature. */
export interface GlycolBand {
  leastPercent: number;
  /** more glycol freezes earlier again; absent where the table ends before it turns */
  mostPercent?: number;
}

/**
 * The glycol contents in % that freeze at `freezingC` (below 0) or colder.
 *
 * @throws NotComputable at `/freezingC`: `not-below-zero`; `colder-than-table` when no mix of the table reaches it
 * @see tables of an engine maker (ethylene) and a handbook (propylene), secondary
 */
export function glycolBand(glycol: Glycol, freezingC: number): GlycolBand {
  if (!(freezingC < 0)) throw notComputable('/freezingC', 'not-below-zero', 'Water alone protects to 0 °C.');
  const percents = glycolPercentsFor(glycol, freezingC);
  const [leastPercent] = percents;
  if (leastPercent !== undefined) return { leastPercent, mostPercent: mostOf(glycol, freezingC, percents) };
  const coldest = Math.min(...FREEZING[glycol].map(([, celsius]) => celsius));
  throw notComputable('/freezingC', 'colder-than-table', `The table of ${glycol} glycol ends at ${coldest} °C.`);
}

function mostOf(glycol: Glycol, freezingC: number, percents: readonly number[]): number | undefined {
  const [endPercent = 0, endC = 0] = FREEZING[glycol].at(-1) ?? [];
  if (endC > freezingC) return percents.at(-1);
  return endPercent === 100 ? endPercent : undefined;
}

const SOURCES: readonly Source[] = [
  { title: 'Freezing point of ethylene glycol and water, table of an engine maker', standing: 'secondary' },
  { title: 'Freezing point of propylene glycol and water by volume, handbook table', standing: 'secondary' },
];

const input = z.strictObject({
  glycol: z.enum(GLYCOLS).describe('Glycol to mix with water'),
  freezingC: measure('°C', 'Temperature the mix must not freeze above', { min: -80, max: 0 }),
  systemLitres: measure('l', 'Volume of the cooling system', { min: 0.5, max: 100 }).optional(),
});

const result = z.object({
  leastPercent: z.number().describe('Least glycol that protects to the temperature, %'),
  mostPercent: z
    .number()
    .nullable()
    .describe('Most glycol: above it the mix freezes earlier again, %; null if unknown'),
  leastLitres: z.number().nullable().describe('Least glycol in the system, l; null without its volume'),
});

/** How much glycol protects to a temperature: from least to most. */
export const COOLANT_MIX = calculation({
  name: 'coolant-mix',
  title: 'Glycol for a freezing point',
  summary:
    'Least and most glycol that protect to a temperature: above about 60 % ethylene glycol freezes earlier again.',
  input,
  result,
  sources: SOURCES,
  example: { glycol: 'ethylene', freezingC: -30, systemLitres: 8 },
  compute({ glycol, freezingC, systemLitres }) {
    const { leastPercent, mostPercent } = glycolBand(glycol, freezingC);
    return {
      result: {
        leastPercent: roundTo(leastPercent, 1),
        mostPercent: mostPercent === undefined ? null : roundTo(mostPercent, 1),
        leastLitres: systemLitres === undefined ? null : roundTo((systemLitres * leastPercent) / 100, 2),
      },
      steps: [
        {
          what: 'glycol content',
          formula: 'contents at which the table, straight between its points, is at the temperature or colder',
          numbers: `${glycol}, ${freezingC} °C`,
          result: `${roundTo(leastPercent, 1)} % to ${mostPercent === undefined ? 'the end of the table' : `${roundTo(mostPercent, 1)} %`}`,
        },
      ],
      assumptions: [{ name: 'freezing table', value: FREEZING_TABLES, standing: 'secondary' }],
      cautions: [
        'Some venues forbid glycol because a spill stays slippery. Check the mix with a refractometer or hydrometer.',
      ],
    };
  },
});
