import { z } from 'zod';
import {
  type Assumption,
  calculation,
  notComputable,
  type Source,
  type NotComputable,
  type WorkStep,
} from '../calculation.ts';
import {
  findHotGrade,
  findWinterGrade,
  type HotGrade,
  hotGradesOfKv100,
  J300_EDITIONS,
  type J300Edition,
  type WinterGrade,
} from './engine-oil-grade-table.ts';

/** What grades of both SAE J300 and SAE J306 set at 100 °C, mm²/s. */
interface Viscosity {
  kv100Min: number;
  /** exclusive; absent: no upper limit */
  kv100Below?: number;
}

/** The grades of one standard by name: `15W`, `50`. The limits of a hot grade may depend on its winter grade. */
interface GradeTables<W extends Viscosity, H extends Viscosity> {
  findWinter(name: string): W | undefined;
  findHot(name: string, winter?: string): H | undefined;
}

/** A grade text taken apart, with the limits of its parts and the range at 100 °C that both leave, mm²/s. */
export interface OilGrade<W, H> extends Viscosity {
  winter?: { name: string; limits: W };
  hot?: { name: string; limits: H };
}

type GradeFault = 'bad-form' | 'unknown-winter-grade' | 'unknown-hot-grade' | 'no-such-pair';

const GRADE = /^(?:SAE\s*)?(?:(?<winter>\d{1,2}W)(?:\s*[-/]?\s*(?<hot>\d{1,3}))?|(?<only>\d{1,3}))$/u;

/**
 * `5W-40`, `5W40`, `SAE 30`, `10W`, in any case and with any dash. Never throws. No units. Source: the ways people
 * write grades, common practice.
 */
export function readOilGrade<W extends Viscosity, H extends Viscosity>(
  text: string,
  tables: GradeTables<W, H>,
): OilGrade<W, H> | GradeFault {
  const plain = text
    .trim()
    .toUpperCase()
    .replaceAll(/\p{Pd}/gu, '-');
  const names = GRADE.exec(plain)?.groups;
  if (names === undefined) return 'bad-form';
  const winter = findNamed(names['winter'], (name) => tables.findWinter(name));
  if (winter === 'unknown') return 'unknown-winter-grade';
  const hot = findNamed(names['hot'] ?? names['only'], (name) => tables.findHot(name, winter?.name));
  if (hot === 'unknown') return 'unknown-hot-grade';
  const range = commonRange(winter?.limits, hot?.limits);
  return range === undefined ? 'no-such-pair' : { winter, hot, ...range };
}

function commonRange(winter?: Viscosity, hot?: Viscosity): Viscosity | undefined {
  const kv100Min = Math.max(winter?.kv100Min ?? 0, hot?.kv100Min ?? 0);
  const kv100Below = hot?.kv100Below;
  return kv100Below !== undefined && kv100Min >= kv100Below ? undefined : { kv100Min, kv100Below };
}

function findNamed<T>(name: string | undefined, find: (name: string) => T | undefined) {
  if (name === undefined) return undefined;
  const limits = find(name);
  return limits === undefined ? 'unknown' : { name, limits };
}

const FAULTS: Readonly<Record<GradeFault, string>> = {
  'bad-form': 'is not an oil grade such as 15W-50, 75W-90 or 40',
  'unknown-winter-grade': 'has a winter grade that the standard does not have',
  'unknown-hot-grade': 'has a number that is no grade of this edition of the standard',
  'no-such-pair': 'cannot be: its winter grade asks for more viscosity at 100 °C than its other grade allows',
};

/** The refusal of a grade text, at `/grade`. No units. Never throws. Source: ours. */
export const refuseOilGrade = (text: string, fault: GradeFault): NotComputable =>
  notComputable('/grade', fault, `${JSON.stringify(text)} ${FAULTS[fault]}.`);

/**
 * Whether a viscosity at 100 °C (mm²/s) is within a grade; `null` when none is given. Never throws. Source: arithmetic
 * on the limits of the grade.
 */
export function isInGrade({ kv100Min, kv100Below }: Viscosity, kv100: number | undefined): boolean | null {
  return kv100 === undefined ? null : kv100 >= kv100Min && kv100 < (kv100Below ?? Number.POSITIVE_INFINITY);
}

/** A grade of SAE J300 with the limits of its parts. mm²/s, mPa·s, °C. */
export type EngineOilGrade = OilGrade<WinterGrade, HotGrade>;

const readGrade = (text: string, edition: J300Edition): EngineOilGrade | GradeFault =>
  readOilGrade(text, {
    findWinter: findWinterGrade,
    findHot: (name, winter) => findHotGrade(name, edition, winter),
  });

/**
 * Limits that a grade text stands for: `15W-50`, `SAE 40`, `10W`. Units are in the names of the limits.
 *
 * @throws NotComputable at `/grade`: `bad-form`, `unknown-winter-grade`, `unknown-hot-grade`, `no-such-pair`
 * @see SAE J300, January 2015 and December 1999 (secondary)
 */
export function engineOilGrade(text: string, edition: J300Edition = '2015'): EngineOilGrade {
  const grade = readGrade(text, edition);
  if (typeof grade === 'string') throw refuseOilGrade(text, grade);
  return grade;
}

/**
 * The hot grade of a text as a number (`15W-50` is 50); hot grades are in the order of their numbers. `undefined` when
 * the text is no grade of SAE J300 (2015) or has no hot grade. Never throws. A grade has no unit. Source: SAE J300,
 * January 2015 (secondary).
 */
export function engineOilHotGrade(text: string): number | undefined {
  const grade = readGrade(text, '2015');
  return typeof grade === 'string' || grade.hot === undefined ? undefined : Number(grade.hot.name);
}

const SOURCES: readonly Source[] = [
  { title: 'SAE J300, 20 January 2015, table on public pages', standing: 'secondary' },
  { title: 'SAE J300, December 1999: where it differs', standing: 'secondary' },
];

const input = z.strictObject({
  grade: z.string().min(1).max(20).describe('Grade as printed on the container: 5W-40, 15W-50, SAE 40'),
  edition: z.enum(J300_EDITIONS).describe('Edition of SAE J300 to read it by').default('2015'),
  kv100: z.number().min(1).max(100).describe('Viscosity measured at 100 °C, mm²/s, to compare').optional(),
  minimumHotGrade: z.int().min(8).max(60).describe('Lowest hot grade that is asked for, for example 40').optional(),
});
type Input = z.infer<typeof input>;

const result = z.object({
  winter: z
    .object({
      name: z.string().describe('Winter grade, for example 15W'),
      crankingMax: z.number().describe('Cranking viscosity at most, mPa·s'),
      crankingC: z.number().describe('Temperature of the cranking limit, °C'),
      pumpingC: z.number().describe('Temperature at which it still pumps (60,000 mPa·s), °C'),
    })
    .nullable()
    .describe('Cold side; null where the grade has none'),
  hot: z
    .object({
      name: z.string().describe('Hot grade, for example 50'),
      hths150Min: z.number().describe('High-shear viscosity at 150 °C at least, mPa·s'),
    })
    .nullable()
    .describe('Hot side; null where the grade has none'),
  kv100Min: z.number().describe('Viscosity at 100 °C at least, mm²/s'),
  kv100Below: z.number().nullable().describe('Viscosity at 100 °C below, mm²/s; null where the grade has no hot side'),
  hotGradesOfKv100: z.array(z.string()).describe('Hot grades whose range holds the measured viscosity'),
  inGrade: z.boolean().nullable().describe('The measured viscosity is within the grade; null where none was given'),
  meetsMinimum: z.boolean().nullable().describe('Hot grade is at least the one asked for; null where none was given'),
});
type Result = z.infer<typeof result>;

function meetsHotGrade({ hot }: EngineOilGrade, minimum: number | undefined): boolean | null {
  return minimum === undefined ? null : hot !== undefined && Number(hot.name) >= minimum;
}

function limitsOf({ winter, hot, kv100Min, kv100Below }: EngineOilGrade) {
  const cold = winter === undefined ? null : { name: winter.name, ...coldLimits(winter.limits) };
  const warm = hot === undefined ? null : { name: hot.name, hths150Min: hot.limits.hths150Min };
  return { winter: cold, hot: warm, kv100Min, kv100Below: kv100Below ?? null };
}

const coldLimits = ({ crankingMax, crankingC, pumpingC }: WinterGrade) => ({ crankingMax, crankingC, pumpingC });

function explain(asked: Input, worked: Result): WorkStep[] {
  const steps: WorkStep[] = [
    {
      what: 'viscosity at 100 °C',
      formula: 'the higher of the two minimums; below the upper limit of the hot grade',
      numbers: `winter ${worked.winter?.name ?? 'none'}, hot ${worked.hot?.name ?? 'none'}`,
      result: `${worked.kv100Min} to below ${worked.kv100Below ?? 'no limit'} mm²/s`,
    },
  ];
  if (asked.kv100 === undefined) return steps;
  return [
    ...steps,
    {
      what: 'hot grades of the measured viscosity',
      formula: 'minimum ≤ viscosity < upper limit',
      numbers: `${asked.kv100} mm²/s`,
      result: worked.hotGradesOfKv100.join(', ') || 'none',
    },
  ];
}

const editionAssumption: Assumption = {
  name: 'what the sources do not say of 1999',
  value: 'as in 2015, except SAE 20, light 40s and no grades below 20',
  standing: 'from-memory',
};

/** An engine oil grade as text to the limits it stands for. */
export const ENGINE_OIL_GRADE = calculation({
  name: 'engine-oil-grade',
  title: 'Engine oil grade',
  summary: 'Limits behind a grade of SAE J300, and whether a measured viscosity and a wanted hot grade fit it.',
  input,
  result,
  sources: SOURCES,
  example: { grade: '15W-50', minimumHotGrade: 40 },
  compute(asked) {
    const grade = engineOilGrade(asked.grade, asked.edition);
    const worked: Result = {
      ...limitsOf(grade),
      hotGradesOfKv100: asked.kv100 === undefined ? [] : hotGradesOfKv100(asked.kv100, asked.edition),
      inGrade: isInGrade(grade, asked.kv100),
      meetsMinimum: meetsHotGrade(grade, asked.minimumHotGrade),
    };
    return {
      result: worked,
      steps: explain(asked, worked),
      assumptions: asked.edition === '1999' ? [editionAssumption] : [],
      cautions: [
        'A grade says how thick an oil is, not whether it is good. In 2015 the ranges below SAE 20 overlap, so a viscosity alone does not name one grade there.',
      ],
    };
  },
});
