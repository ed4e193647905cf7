import { notComputable } from '../calculation.ts';
import { SEA_LEVEL_KPA, ZERO_CELSIUS_K } from '../standard-atmosphere.ts';

/** Coefficients of the saturation line, region 4 of IAPWS-IF97. */
// biome-ignore format: as the release prints them
const N = [
  0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
  0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
] as const;
const KPA_PER_MPA = 1000;
/** What the release covers: 273.15 K to the critical point. */
const RANGE_KPA = { min: 0.611213, max: 22_064 };
const RANGE_C = { min: 0, max: 373.946 };

/**
 * Temperature in °C at which pure water boils under an absolute pressure in kPa (0.612 to 22,064).
 *
 * @throws NotComputable `outside-steam-table` at `/absoluteKpa`
 * @see IAPWS R7-97(2012), equation 31, coefficients and check values of table 36 as quoted by open implementations
 *   (secondary)
 */
export function waterBoilingC(absoluteKpa: number): number {
  if (!(absoluteKpa >= RANGE_KPA.min && absoluteKpa <= RANGE_KPA.max)) {
    throw notComputable('/absoluteKpa', 'outside-steam-table', `${absoluteKpa} kPa is outside 0.612 to 22,064 kPa.`);
  }
  const beta = (absoluteKpa / KPA_PER_MPA) ** 0.25;
  const e = beta ** 2 + N[2] * beta + N[5];
  const f = N[0] * beta ** 2 + N[3] * beta + N[6];
  const g = N[1] * beta ** 2 + N[4] * beta + N[7];
  const d = (2 * g) / (-f - Math.sqrt(f ** 2 - 4 * e * g));
  return (N[9] + d - Math.sqrt((N[9] + d) ** 2 - 4 * (N[8] + N[9] * d))) / 2 - ZERO_CELSIUS_K;
}

/**
 * Absolute pressure in kPa at which pure water boils at a temperature in °C (0 to 373.946): `waterBoilingC` backwards.
 *
 * @throws NotComputable `outside-steam-table` at `/celsius`
 * @see IAPWS R7-97(2012), equation 30 (secondary)
 */
export function waterBoilingKpa(celsius: number): number {
  if (!(celsius >= RANGE_C.min && celsius <= RANGE_C.max)) {
    throw notComputable('/celsius', 'outside-steam-table', `${celsius} °C is outside 0 to 373.946 °C.`);
  }
  const kelvin = celsius + ZERO_CELSIUS_K;
  const theta = kelvin + N[8] / (kelvin - N[9]);
  const a = theta ** 2 + N[0] * theta + N[1];
  const b = N[2] * theta ** 2 + N[3] * theta + N[4];
  const c = N[5] * theta ** 2 + N[6] * theta + N[7];
  return KPA_PER_MPA * ((2 * c) / (-b + Math.sqrt(b ** 2 - 4 * a * c))) ** 4;
}

/** Antoine constants of water, log10 of mmHg and °C: 1 to 100 °C, and 99 to 374 °C (secondary). */
const ANTOINE = {
  low: { a: 8.07131, b: 1730.63, c: 233.426 },
  high: { a: 8.14019, b: 1810.94, c: 244.485 },
} as const;

/** mmHg in a kPa: 760 are 101.325. A torr is a mmHg; it is not 1.333 of them. */
export const MMHG_PER_KPA = 760 / SEA_LEVEL_KPA;

/**
 * Boiling point of water in °C by the Antoine equation, for comparison: `B/(A − log10 p) − C`, p in mmHg above 0. The
 * two sets do not meet: at 760 mmHg they differ by 0.16 °C. Never throws.
 *
 * @param range `low` up to 100 °C, `high` from there
 * @see Antoine constants of water on a public engineering page (secondary)
 */
export function antoineBoilingC(mmHg: number, range: keyof typeof ANTOINE): number {
  const { a, b, c } = ANTOINE[range];
  return b / (a - Math.log10(mmHg)) - c;
}

export const GLYCOLS = ['ethylene', 'propylene'] as const;
export type Glycol = (typeof GLYCOLS)[number];

/** A curve as points in order of x; straight between them. */
export type Curve = readonly (readonly [x: number, y: number])[];

/**
 * y at x on a curve; `undefined` outside it. Never throws. In the units of the curve. Source: linear interpolation.
 */
export function valueAt(curve: Curve, x: number): number | undefined {
  for (const [[x1, y1], [x2, y2]] of segmentsOf(curve)) {
    if (x >= x1 && x <= x2) return x === x2 ? y2 : y1 + ((y2 - y1) * (x - x1)) / (x2 - x1);
  }
  return undefined;
}

/**
 * Every x at which a curve has the value y, in order; empty where it never has. Never throws. In the units of the
 * curve. Source: linear interpolation.
 */
export function rootsAt(curve: Curve, y: number): number[] {
  const roots = segmentsOf(curve).flatMap(([[x1, y1], [x2, y2]]) => {
    if (y1 === y) return [x1];
    if (y2 === y) return [x2];
    return (y - y1) * (y - y2) < 0 ? [x1 + ((x2 - x1) * (y - y1)) / (y2 - y1)] : [];
  });
  return [...new Set(roots)];
}

const segmentsOf = (curve: Curve) => curve.slice(1).map((end, index) => [curve[index] ?? end, end] as const);

/**
 * Freezing point in °C by glycol content in %.
 *
 * Ethylene: table of an engine maker (secondary; it does not say whether by volume or mass). It turns back near 60 %:
 * more glycol freezes earlier; between 59 and 80 % laboratories disagree. Propylene: handbook table by
 * volume to 50 % (secondary). Both begin with pure water.
 */
export const FREEZING: Readonly<Record<Glycol, Curve>> = {
  // biome-ignore format: as printed
  ethylene: [
    [0, 0], [28.4, -10], [32.8, -15], [38.5, -20], [45.3, -25], [47.8, -30], [50, -35],
    [54, -40], [57, -45], [59, -50], [80, -45], [85, -30], [100, -13],
  ],
  // biome-ignore format: as printed
  propylene: [
    [0, 0], [5, -1.1], [10, -2.2], [15, -3.9], [20, -6.7], [25, -8.9],
    [30, -12.8], [35, -16.1], [40, -20.6], [45, -26.7], [50, -33.3],
  ],
};

/** What to know about these tables, for readers. */
export const FREEZING_TABLES =
  'tables differ by some degrees; the one for ethylene does not say by volume or mass and is uncertain from 59 to 80 %';

/**
 * Freezing point in °C of a mix with so much glycol (%); `undefined` outside the table (propylene above 50 %). Never
 * throws. Source: the tables of `FREEZING` (secondary).
 */
export const glycolFreezingC = (glycol: Glycol, percent: number): number | undefined =>
  valueAt(FREEZING[glycol], percent);

/**
 * Every content in % that freezes at a temperature in °C, in order: two for ethylene below −13 °C; may be empty. Never
 * throws. Source: the tables of `FREEZING` (secondary).
 */
export const glycolPercentsFor = (glycol: Glycol, freezingC: number): number[] => rootsAt(FREEZING[glycol], freezingC);

/** g/mol and g/ml. Ethylene: secondary sources; water and propylene: from memory. */
const WATER = { molar: 18.015, density: 0.998 };
const MOLECULES: Readonly<Record<Glycol, { molar: number; density: number }>> = {
  ethylene: { molar: 62.07, density: 1.113 },
  propylene: { molar: 76.09, density: 1.036 },
};

function moleFraction(glycol: Glycol, percentByVolume: number): number {
  const { molar, density } = MOLECULES[glycol];
  const glycolMoles = (percentByVolume * density) / molar;
  return glycolMoles / (glycolMoles + ((100 - percentByVolume) * WATER.density) / WATER.molar);
}

/** 223 °F: ethylene glycol and water, half and half, at 1 atm (secondary). */
const HALF_AND_HALF_C = (223 - 32) / 1.8;

/**
 * How much of its vapour pressure water keeps in a mix that boils at so many °C at sea level: 1 for pure water.
 *
 * @throws NotComputable `outside-steam-table` as `waterBoilingKpa`
 * @see `waterBoilingKpa`; derived
 */
export const waterShareOf = (boilsAtSeaLevelC: number): number => SEA_LEVEL_KPA / waterBoilingKpa(boilsAtSeaLevelC);

/** Loss of vapour pressure per mole fraction of glycol that makes half and half boil at 223 °F; an ideal mix has 1. */
const LOSS = (1 - waterShareOf(HALF_AND_HALF_C)) / moleFraction('ethylene', 50);
/** Where the model ends: above it the vapour is no longer nearly all water. */
export const MOST_GLYCOL_PERCENT = 70;

/**
 * Boiling point in °C at sea level of a mix (0 to 70 % by volume): water's vapour pressure falls in proportion to the
 * mole fraction of glycol, set so that half ethylene glycol boils at 223 °F.
 *
 * @throws NotComputable `beyond-model` at `/glycolPercent`
 * @see one published boiling point (secondary), the rest derived; propylene from memory that it behaves alike
 */
export function glycolBoilingAtSeaLevelC(glycol: Glycol, percentByVolume: number): number {
  if (!(percentByVolume >= 0 && percentByVolume <= MOST_GLYCOL_PERCENT)) {
    const detail = `Not known above ${MOST_GLYCOL_PERCENT} %: give boilsAtSeaLevelC from the container.`;
    throw notComputable('/glycolPercent', 'beyond-model', detail);
  }
  return waterBoilingC(SEA_LEVEL_KPA / (1 - LOSS * moleFraction(glycol, percentByVolume)));
}

/**
 * Boiling point in °C under an absolute pressure in kPa of a coolant that boils at `boilsAtSeaLevelC` at 1 atm: water
 * under the pressure divided by its share of vapour pressure, taken as the same at any temperature.
 *
 * @throws NotComputable `outside-steam-table` for values far outside a cooling system
 * @see derived from the steam table; in the range of published statements for half and half under a 15 psi cap
 */
export function boilingUnderPressureC(boilsAtSeaLevelC: number, absoluteKpa: number): number {
  return waterBoilingC(absoluteKpa / waterShareOf(boilsAtSeaLevelC));
}
