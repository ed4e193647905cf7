import { refuse } from './calculation.ts';
import { waterBoilingC, waterBoilingKpa } from './coolant-water.ts';
import { SEA_LEVEL_KPA } from './standard-atmosphere.ts';

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
 * @throws TradeRefusal `outside-steam-table` as `waterBoilingKpa`
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
 * @throws TradeRefusal `beyond-model` at `/glycolPercent`
 * @see one published boiling point (secondary), the rest derived; propylene from memory that it behaves alike
 */
export function glycolBoilingAtSeaLevelC(glycol: Glycol, percentByVolume: number): number {
  if (!(percentByVolume >= 0 && percentByVolume <= MOST_GLYCOL_PERCENT)) {
    const detail = `Not known above ${MOST_GLYCOL_PERCENT} %: give boilsAtSeaLevelC from the container.`;
    throw refuse('/glycolPercent', 'beyond-model', detail);
  }
  return waterBoilingC(SEA_LEVEL_KPA / (1 - LOSS * moleFraction(glycol, percentByVolume)));
}

/**
 * Boiling point in °C under an absolute pressure in kPa of a coolant that boils at `boilsAtSeaLevelC` at 1 atm: water
 * under the pressure divided by its share of vapour pressure, taken as the same at any temperature.
 *
 * @throws TradeRefusal `outside-steam-table` for values far outside a cooling system
 * @see derived from the steam table; in the range of published statements for half and half under a 15 psi cap
 */
export function boilingUnderPressureC(boilsAtSeaLevelC: number, absoluteKpa: number): number {
  return waterBoilingC(absoluteKpa / waterShareOf(boilsAtSeaLevelC));
}
