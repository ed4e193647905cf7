/** Which edition of SAE J300 a grade is read by: they differ in SAE 20, in light 40s and in what exists below 20. */
export const J300_EDITIONS = ['2015', '1999'] as const;
export type J300Edition = (typeof J300_EDITIONS)[number];

export interface WinterGrade {
  /** cranking viscosity at most, mPa·s, at `crankingC` °C */
  crankingMax: number;
  crankingC: number;
  /** temperature at which it must still pump (60,000 mPa·s), °C */
  pumpingC: number;
  /** kinematic viscosity at 100 °C at least, mm²/s */
  kv100Min: number;
}

export interface HotGrade {
  /** kinematic viscosity at 100 °C: at least, and below, mm²/s */
  kv100Min: number;
  kv100Below: number;
  /** high-temperature high-shear viscosity at 150 °C at least, mPa·s */
  hths150Min: number;
}

/** SAE J300, 20 January 2015 (secondary: table on public pages). One mirror prints 10W cranking at −30 °C; it is −25. */
const WINTER: Readonly<Record<string, WinterGrade>> = {
  '0W': { crankingMax: 6200, crankingC: -35, pumpingC: -40, kv100Min: 3.8 },
  '5W': { crankingMax: 6600, crankingC: -30, pumpingC: -35, kv100Min: 3.8 },
  '10W': { crankingMax: 7000, crankingC: -25, pumpingC: -30, kv100Min: 4.1 },
  '15W': { crankingMax: 7000, crankingC: -20, pumpingC: -25, kv100Min: 5.6 },
  '20W': { crankingMax: 9500, crankingC: -15, pumpingC: -20, kv100Min: 5.6 },
  '25W': { crankingMax: 13_000, crankingC: -10, pumpingC: -15, kv100Min: 9.3 },
};

const hot = (kv100Min: number, kv100Below: number, hths150Min: number): HotGrade => ({
  kv100Min,
  kv100Below,
  hths150Min,
});
const HEAVY: Readonly<Record<string, HotGrade>> = {
  '30': hot(9.3, 12.5, 2.9),
  '40': hot(12.5, 16.3, 3.7),
  '50': hot(16.3, 21.9, 3.7),
  '60': hot(21.9, 26.1, 3.7),
};
const HOT: Readonly<Record<J300Edition, Readonly<Record<string, HotGrade>>>> = {
  '2015': {
    '8': hot(4, 6.1, 1.7),
    '12': hot(5, 7.1, 2),
    '16': hot(6.1, 8.2, 2.3),
    '20': hot(6.9, 9.3, 2.6),
    ...HEAVY,
  },
  '1999': { '20': hot(5.6, 9.3, 2.6), ...HEAVY },
};
/** A 40 with one of these winter grades may shear thinner. */
const LIGHT_40: readonly string[] = ['0W', '5W', '10W'];
const LIGHT_40_HTHS: Readonly<Record<J300Edition, number>> = { '2015': 3.5, '1999': 2.9 };

/**
 * Limits of a winter grade such as `5W`; `undefined` when there is none of that name. Units are in the names of the
 * limits. Never throws.
 *
 * @see SAE J300 (secondary)
 */
export function findWinterGrade(name: string): WinterGrade | undefined {
  return Object.hasOwn(WINTER, name) ? WINTER[name] : undefined;
}

/**
 * Limits of a hot grade such as `40` in an edition, with the winter grade it is paired with, if any; `undefined` when
 * the edition has none of that name. Units are in the names of the limits. Never throws.
 *
 * @see SAE J300, editions of 2015 and December 1999 (secondary)
 */
export function findHotGrade(name: string, edition: J300Edition, winter?: string): HotGrade | undefined {
  const grade = Object.hasOwn(HOT[edition], name) ? HOT[edition][name] : undefined;
  if (grade === undefined || name !== '40' || winter === undefined || !LIGHT_40.includes(winter)) return grade;
  return { ...grade, hths150Min: LIGHT_40_HTHS[edition] };
}

/**
 * The hot grades whose range holds a kinematic viscosity at 100 °C (mm²/s), thinnest first. Below 20 the ranges of
 * 2015 overlap, so there may be two or three; upper bounds are exclusive. Empty when there is none. Never throws.
 *
 * @see SAE J300, editions of 2015 and December 1999 (secondary)
 */
export function hotGradesOfKv100(kv100: number, edition: J300Edition): string[] {
  return Object.entries(HOT[edition])
    .filter(([, { kv100Min, kv100Below }]) => kv100 >= kv100Min && kv100 < kv100Below)
    .map(([name]) => name);
}
