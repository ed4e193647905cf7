import { z } from 'zod';
import { CAUTIONS } from '../../cautions.ts';
import { roundTo } from '../../quantity.ts';
import { calculation, measure, notComputable } from '../calculation.ts';

const energy = (levelDb: number): number => 10 ** (levelDb / 10);

/**
 * The level (dB(A)) of several sources at once: their energies add, `10·log10 Σ 10^(L/10)`.
 *
 * @throws NotComputable `/levels` when there is none
 * @see acoustics course notes; n equal sources add 10·log10 n
 */
export function addLevels(levelsDb: readonly number[]): number {
  if (levelsDb.length === 0) throw notComputable('/levels', 'empty', 'Give at least one level.');
  return 10 * Math.log10(levelsDb.reduce((sum, level) => sum + energy(level), 0));
}

/**
 * The equivalent level Leq (dB(A)) of readings of equal duration: the mean of their energies. The mean of the numbers
 * reads too low.
 *
 * @throws NotComputable `/levels` when there is none
 * @see acoustics course notes: the mean of energies
 */
export function equivalentLevel(levelsDb: readonly number[]): number {
  return addLevels(levelsDb) - 10 * Math.log10(levelsDb.length);
}

const Input = z.strictObject({
  levels: z
    .array(measure('dB(A)', 'One reading', { min: 30, max: 160 }))
    .min(1)
    .max(200)
    .describe('Readings at one place, each over the same time'),
});

const Result = z.object({
  equivalentDb: z.number().describe('Equivalent level Leq over all readings, dB(A)'),
  loudestDb: z.number().describe('The loudest reading, dB(A): what a limit on the maximum is held against'),
});

/** `sound-average`: the equivalent level of several readings. */
export const SOUND_AVERAGE = calculation({
  name: 'sound-average',
  title: 'Equivalent sound level',
  summary: 'The equivalent level Leq of several readings of equal duration; levels are never averaged as numbers.',
  input: Input,
  result: Result,
  sources: [{ title: 'Level addition, acoustics course notes', standing: 'secondary' }],
  example: { levels: [88, 91, 90] },
  compute({ levels }) {
    const equivalent = equivalentLevel(levels);
    return {
      result: { equivalentDb: roundTo(equivalent, 1), loudestDb: roundTo(Math.max(...levels), 1) },
      steps: [
        {
          what: 'Equivalent level',
          formula: 'Leq = 10·log10(Σ 10^(L/10) / n)',
          numbers: `L = ${levels.map((level) => roundTo(level, 1)).join(', ')}; n = ${levels.length}`,
          result: `${roundTo(equivalent, 1)} dB(A)`,
        },
      ],
      assumptions: [{ name: 'Duration', value: 'each reading covers the same time', standing: 'derived' }],
      cautions: [CAUTIONS['noise-meter'].text],
    };
  },
});
