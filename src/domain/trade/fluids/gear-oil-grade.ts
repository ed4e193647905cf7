import { z } from 'zod';
import { type Assumption, calculation, type Source } from '../calculation.ts';
import { isInGrade, type OilGrade, readOilGrade, refuseOilGrade } from './engine-oil-grade.ts';

/** Which edition of SAE J306: before 2005 there was no 110 and no 190, and 90 and 140 were wide. */
export const J306_EDITIONS = ['2019', 'before-2005'] as const;
export type J306Edition = (typeof J306_EDITIONS)[number];

interface GearHotGrade {
  /** mm²/s at 100 °C, at least */
  kv100Min: number;
  /** mm²/s at 100 °C, below; absent: no upper limit */
  kv100Below?: number;
}

interface GearWinterGrade {
  /** highest temperature at which it has 150,000 cP, °C */
  coldC: number;
  kv100Min: number;
}

/** SAE J306, February 2019 (secondary: table on public pages). */
const WINTER: Readonly<Record<string, GearWinterGrade>> = {
  '70W': { coldC: -55, kv100Min: 3.8 },
  '75W': { coldC: -40, kv100Min: 3.8 },
  '80W': { coldC: -26, kv100Min: 8.5 },
  '85W': { coldC: -12, kv100Min: 11 },
};
const hot = (kv100Min: number, kv100Below?: number): GearHotGrade => ({ kv100Min, kv100Below });
/** 2019: the whole table (secondary). Before 2005: the two grades that an abstract of the 2005 edition tells of. */
const HOT: Readonly<Record<J306Edition, Readonly<Record<string, GearHotGrade>>>> = {
  '2019': {
    '65': hot(3.8, 5),
    '70': hot(5, 6.5),
    '75': hot(6.5, 8.5),
    '80': hot(8.5, 11),
    '85': hot(11, 13.5),
    '90': hot(13.5, 18.5),
    '110': hot(18.5, 24),
    '140': hot(24, 32.5),
    '190': hot(32.5, 41),
    '250': hot(41),
  },
  'before-2005': { '90': hot(13.5, 24), '140': hot(24, 41) },
};

/**
 * The gear oil grade of a kinematic viscosity at 100 °C (mm²/s). `undefined` when the edition (as far as we know it)
 * has none: below 3.8, and before 2005 outside 13.5 to 41. Upper bounds are exclusive. Never throws.
 *
 * @see SAE J306, February 2019; abstract of the 2005 edition for what was before (secondary)
 */
export function gearGradeOfKv100(kv100: number, edition: J306Edition = '2019'): string | undefined {
  return Object.entries(HOT[edition]).find(([, grade]) => isInGrade(grade, kv100) === true)?.[0];
}

/** A grade of SAE J306 with the limits of its parts. mm²/s at 100 °C, °C. */
export type GearOilGrade = OilGrade<GearWinterGrade, GearHotGrade>;

/**
 * Limits that a gear oil grade text stands for: `75W-90`, `SAE 140`, `75W`. Units are in the names of the limits.
 *
 * @throws NotComputable at `/grade`: `bad-form`, `unknown-winter-grade`, `unknown-hot-grade`, `no-such-pair`
 * @see SAE J306, February 2019 (secondary)
 */
export function gearOilGrade(text: string, edition: J306Edition = '2019'): GearOilGrade {
  const grade = readOilGrade(text, {
    findWinter: (name) => (Object.hasOwn(WINTER, name) ? WINTER[name] : undefined),
    findHot: (name) => (Object.hasOwn(HOT[edition], name) ? HOT[edition][name] : undefined),
  });
  if (typeof grade === 'string') throw refuseOilGrade(text, grade);
  return grade;
}

const SOURCES: readonly Source[] = [
  { title: 'SAE J306, February 2019, table on public pages', standing: 'secondary' },
  { title: 'Abstract of SAE J306, 2005: grades 110 and 190 split off from 90 and 140', standing: 'secondary' },
];

const input = z.strictObject({
  grade: z.string().min(1).max(20).describe('Grade as printed on the container: 75W-90, 80W-140, SAE 90'),
  edition: z.enum(J306_EDITIONS).describe('Edition of SAE J306 to read it by').default('2019'),
  kv100: z.number().min(1).max(200).describe('Viscosity measured at 100 °C, mm²/s, to compare').optional(),
});

const result = z.object({
  winter: z.string().nullable().describe('Winter grade, for example 75W'),
  hot: z.string().nullable().describe('Hot grade, for example 90'),
  kv100Min: z.number().describe('Viscosity at 100 °C at least, mm²/s'),
  kv100Below: z.number().nullable().describe('Viscosity at 100 °C below, mm²/s; null where there is no upper limit'),
  coldC: z.number().nullable().describe('Highest temperature of 150,000 cP, °C; null without a winter grade'),
  gradeOfKv100: z.string().nullable().describe('Hot grade of the measured viscosity; null where none or not given'),
  inGrade: z.boolean().nullable().describe('The measured viscosity is within the grade; null where none was given'),
});

const OLD_EDITION: Assumption = {
  name: 'edition before 2005',
  value: 'only 90 and 140 are known to us, with the winter grades of 2019',
  standing: 'from-memory',
};

/** A gear oil grade as text to the limits it stands for. */
export const GEAR_OIL_GRADE = calculation({
  name: 'gear-oil-grade',
  title: 'Gear oil grade',
  summary: 'Limits behind a grade of SAE J306, by edition, and whether a measured viscosity fits it.',
  input,
  result,
  sources: SOURCES,
  example: { grade: '75W-110', kv100: 19.5 },
  compute({ grade: text, edition, kv100 }) {
    const grade = gearOilGrade(text, edition);
    const { winter, hot, kv100Min, kv100Below } = grade;
    const upper = kv100Below ?? null;
    return {
      result: {
        winter: winter?.name ?? null,
        hot: hot?.name ?? null,
        kv100Min,
        kv100Below: upper,
        coldC: winter?.limits.coldC ?? null,
        gradeOfKv100: (kv100 === undefined ? undefined : gearGradeOfKv100(kv100, edition)) ?? null,
        inGrade: isInGrade(grade, kv100),
      },
      steps: [
        {
          what: 'viscosity at 100 °C',
          formula: 'the higher of the two minimums; below the upper limit of the hot grade',
          numbers: `grade ${text}, edition ${edition}`,
          result: upper === null ? `${kv100Min} mm²/s or more` : `${kv100Min} to below ${upper} mm²/s`,
        },
      ],
      assumptions: edition === 'before-2005' ? [OLD_EDITION] : [],
      cautions: [
        'Engine and gear oil grades are different scales: a gear oil 90 is about as thick as an engine oil 40 or 50.',
      ],
    };
  },
});
