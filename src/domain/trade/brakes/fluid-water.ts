/**
 * Water that brake fluid takes up, % of its mass in a year. Published figures run from 1 to 3; 1.5 is common practice for
 * a sealed car in a temperate climate.
 */
export const WATER_PERCENT_PER_YEAR = { least: 1, usual: 1.5, most: 3 } as const;
/** Water of the humid conditioning behind a wet boiling point, % of mass (secondary). */
const WET_PERCENT = 3.7;
/** Fitted to five published points of DOT 3 it is 0.228; 0.30 lies on the safe side of them (derived). */
const DECAY_PER_PERCENT = 0.3;
const DAYS_PER_YEAR = 365.25;

/** Boiling points of a fluid, °C: fresh, and with the water of the standard's conditioning. */
export interface FluidPoints {
  dryC: number;
  wetC: number;
}

/**
 * The boiling point, °C, of a glycol fluid with so much water in it, % of mass: an exponential through its dry and its
 * wet point, T(w) = Td − (Td − Tw)·(1 − e^(−k·w))/(1 − e^(−3.7·k)). Silicone fluid and mineral oil do not follow it.
 * Never throws.
 *
 * @see 49 CFR 571.116 S5.1.1 and S5.1.2 for the two ends; the curve is a fit to published points of DOT 3 (derived)
 */
export function boilingPointWithWater({ dryC, wetC }: FluidPoints, waterPercent: number): number {
  const share = (1 - Math.exp(-DECAY_PER_PERCENT * waterPercent)) / (1 - Math.exp(-DECAY_PER_PERCENT * WET_PERCENT));
  return dryC - (dryC - wetC) * share;
}

/**
 * The boiling point, °C, of a glycol fluid so many days after the flush. Never throws.
 *
 * @param percentPerYear water it takes up, % of mass in a year
 * @see `boilingPointWithWater`; how fast water comes in is common practice
 */
export function boilingPointAtAge(
  points: FluidPoints,
  ageDays: number,
  percentPerYear: number = WATER_PERCENT_PER_YEAR.usual,
): number {
  return boilingPointWithWater(points, (percentPerYear * ageDays) / DAYS_PER_YEAR);
}

/**
 * Water, % of mass, at which a glycol fluid boils at this temperature, °C: the curve turned round. `undefined` where it
 * never does. Never throws. Source: `boilingPointWithWater`.
 */
export function waterAtBoilingPoint({ dryC, wetC }: FluidPoints, boilsAtC: number): number | undefined {
  const share = ((dryC - boilsAtC) / (dryC - wetC)) * (1 - Math.exp(-DECAY_PER_PERCENT * WET_PERCENT));
  return share >= 0 && share < 1 ? -Math.log(1 - share) / DECAY_PER_PERCENT : undefined;
}
