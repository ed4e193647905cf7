import { refuse, type TradeRefusal } from './calculation.ts';

/** What grades of both SAE J300 and SAE J306 set at 100 °C, mm²/s. */
interface Viscosity {
  kv100Min: number;
  /** exclusive; absent: no upper limit */
  kv100Below?: number;
}

/** The grades of one standard by name: `15W`, `50`. The limits of a hot grade may depend on its winter grade. */
export interface GradeTables<W extends Viscosity, H extends Viscosity> {
  findWinter(name: string): W | undefined;
  findHot(name: string, winter?: string): H | undefined;
}

/** A grade text taken apart, with the limits of its parts and the range at 100 °C that both leave, mm²/s. */
export interface OilGrade<W, H> extends Viscosity {
  winter?: { name: string; limits: W };
  hot?: { name: string; limits: H };
}

export type GradeFault = 'bad-form' | 'unknown-winter-grade' | 'unknown-hot-grade' | 'no-such-pair';

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
export const refuseOilGrade = (text: string, fault: GradeFault): TradeRefusal =>
  refuse('/grade', fault, `${JSON.stringify(text)} ${FAULTS[fault]}.`);

/**
 * Whether a viscosity at 100 °C (mm²/s) is within a grade; `null` when none is given. Never throws. Source: arithmetic
 * on the limits of the grade.
 */
export function isInGrade({ kv100Min, kv100Below }: Viscosity, kv100: number | undefined): boolean | null {
  return kv100 === undefined ? null : kv100 >= kv100Min && kv100 < (kv100Below ?? Number.POSITIVE_INFINITY);
}
