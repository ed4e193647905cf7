import { z } from 'zod';
import { roundTo } from '../../quantity.ts';
import { calculation, measure, type Source } from '../calculation.ts';

const MILES_FOR_100 = 30_000;
const GRADE_STEP = 20;

/**
 * The exact wear index (a grade before it is rounded) of a tyre's projected life in miles. Never throws.
 *
 * @see 49 CFR 575.104(d)(2)(i), agency letter (published): P = projected miles · 100 / 30,000
 */
export const treadwearIndex = (projectedMiles: number): number => (projectedMiles * 100) / MILES_FOR_100;

/**
 * The treadwear grade of a projected life in miles: the index rounded down to a multiple of 20; 5,000 miles are grade
 * 0. Never throws.
 *
 * @see 49 CFR 575.104(d)(2)(i), agency letter with the example of 5,000 miles (published)
 */
export const treadwearGrade = (projectedMiles: number): number =>
  Math.floor(treadwearIndex(projectedMiles) / GRADE_STEP) * GRADE_STEP;

const SOURCES: readonly Source[] = [
  { title: '49 CFR 575.104(d)(2)(i), treadwear grade; agency letter with worked example', standing: 'published' },
];

const input = z.strictObject({
  projectedMiles: measure('mi', 'Projected tread life on the test course', { min: 0, max: 300_000 }),
  minimumGrade: z.int().min(0).max(2000).describe('Lowest grade the class allows, for example 200').optional(),
});

const result = z.object({
  index: z.number().describe('Index before rounding'),
  grade: z.int().describe('Treadwear grade, a multiple of 20'),
  meetsMinimum: z.boolean().nullable().describe('Grade is at least the minimum; null where no minimum is given'),
});

/** Treadwear grade from projected tread life, as classes with a minimum grade use it. */
export const TREADWEAR_GRADE = calculation({
  name: 'treadwear-grade',
  title: 'Treadwear grade',
  summary: 'Projected miles to the treadwear grade, rounded down as the rule says, against the minimum of a class.',
  input,
  result,
  sources: SOURCES,
  example: { projectedMiles: 66_000, minimumGrade: 200 },
  compute({ projectedMiles, minimumGrade }) {
    const grade = treadwearGrade(projectedMiles);
    const index = roundTo(treadwearIndex(projectedMiles), 2);
    return {
      result: { index, grade, meetsMinimum: minimumGrade === undefined ? null : grade >= minimumGrade },
      steps: [
        {
          what: 'index',
          formula: 'miles · 100 / 30,000',
          numbers: `${projectedMiles} · 100 / 30,000`,
          result: `${index}`,
        },
        { what: 'grade', formula: 'rounded down to a multiple of 20', numbers: `${index}`, result: `${grade}` },
      ],
      assumptions: [],
      cautions: ['A grade says how a tyre wears against a reference tyre on one course; it says nothing about grip.'],
    };
  },
});
