import { convert, roundTo } from '../../quantity.ts';
import type { Standing, TradeFault } from '../calculation.ts';

/** A boiling point as a label prints it: °C, °F or both. */
export interface LabelPoint {
  c?: number;
  f?: number;
}

/** °F that a label may be off by rounding. */
const ROUNDING_F = 1;

/**
 * Whether a label's °C and °F are the same temperature, to 1 °F. `undefined` when one of them is missing. Never
 * throws.
 *
 * @see 49 CFR 571.116: the °F of the grades are exact conversions of the °C (derived)
 */
export function labelAgrees({ c, f }: LabelPoint): boolean | undefined {
  if (c === undefined || f === undefined) return undefined;
  return Math.abs((convert(c, '°C', '°F') ?? Number.NaN) - f) <= ROUNDING_F;
}

/**
 * The boiling point of a label in °C: as printed, else from °F; `undefined` when it gives neither. Never throws.
 * Source: °F to °C by definition.
 */
export function labelPointC({ c, f }: LabelPoint): number | undefined {
  return c ?? (f === undefined ? undefined : convert(f, '°F', '°C'));
}

/**
 * `°C` and `°F` that are not one temperature, and a wet point that is not below the dry one: such a label is misread.
 * In °C and °F as printed. Never throws.
 *
 * @see `labelAgrees`; water lowers a boiling point, common practice
 */
export function findLabelFaults(dry: LabelPoint, wet: LabelPoint): TradeFault[] {
  const faults: TradeFault[] = [];
  for (const [name, point] of [
    ['dry', dry],
    ['wet', wet],
  ] as const) {
    if (labelAgrees(point) !== false) continue;
    const asF = roundTo(convert(point.c ?? Number.NaN, '°C', '°F') ?? Number.NaN, 0);
    const detail = `${point.c} °C is ${asF} °F, not ${point.f} °F: read the label again.`;
    faults.push({ pointer: `/label/${name}/f`, code: 'scales-disagree', detail });
  }
  const [dryC, wetC] = [labelPointC(dry), labelPointC(wet)];
  if (dryC !== undefined && wetC !== undefined && wetC >= dryC) {
    const detail = 'The wet boiling point is always below the dry one.';
    faults.push({ pointer: '/label/wet', code: 'wet-above-dry', detail });
  }
  return faults;
}

/**
 * What of a label a fluid of that class cannot be: below the minimum of its class, dry or wet (°C). Empty when nothing
 * is. A point within 1 °F of the minimum is the minimum, rounded. Never throws.
 *
 * @see 49 CFR 571.116 S5.1.1, S5.1.2 (secondary)
 */
export function findBelowMinimum(minimum: FluidMinimum, dryC?: number, wetC?: number): ('dry' | 'wet')[] {
  const slack = ROUNDING_F / 1.8;
  const below: ('dry' | 'wet')[] = [];
  if (dryC !== undefined && dryC < minimum.dryC - slack) below.push('dry');
  if (wetC !== undefined && wetC < minimum.wetC - slack) below.push('wet');
  return below;
}

/** What a class asks of fresh and of wet fluid at least. */
export interface FluidMinimum {
  /** boiling point of fresh fluid, °C */
  dryC: number;
  /** boiling point after the standard's humid conditioning, °C */
  wetC: number;
  /** kinematic viscosity at −40 °C at most, mm²/s */
  viscosityAtMinus40: number;
  silicone: boolean;
  standing: Standing;
}

const glycol = (dryC: number, wetC: number, viscosityAtMinus40: number, standing: Standing): FluidMinimum => ({
  dryC,
  wetC,
  viscosityAtMinus40,
  silicone: false,
  standing,
});

/**
 * Brake fluid classes and their minimums. The numbers of the classes have no order: ISO 6 boils below ISO 5-1, and DOT 5
 * is another kind of fluid than DOT 5.1 with the same minimums.
 *
 * Sources: DOT grades from 49 CFR 571.116 S5.1.1 and S5.1.2 (secondary: quoted text); ISO classes from ISO 4925:2020,
 * numbers from memory.
 */
export const FLUID_MINIMUMS = {
  'DOT 3': glycol(205, 140, 1500, 'secondary'),
  'DOT 4': glycol(230, 155, 1800, 'secondary'),
  'DOT 5': { ...glycol(260, 180, 900, 'secondary'), silicone: true },
  'DOT 5.1': glycol(260, 180, 900, 'secondary'),
  'ISO 3': glycol(205, 140, 1500, 'from-memory'),
  'ISO 4': glycol(230, 155, 1500, 'from-memory'),
  'ISO 5-1': glycol(260, 180, 900, 'from-memory'),
  'ISO 6': glycol(250, 165, 750, 'from-memory'),
  'ISO 7': glycol(260, 180, 750, 'from-memory'),
} as const satisfies Readonly<Record<string, FluidMinimum>>;

type FluidClass = keyof typeof FLUID_MINIMUMS;
export const FLUID_CLASSES = Object.keys(FLUID_MINIMUMS) as [FluidClass, ...FluidClass[]];

/**
 * The minimums of a class by its name as the catalogue writes it; `undefined` for `mineral-oil`, `unknown` and others.
 * Boiling points in °C. Never throws. Source: that of each row of `FLUID_MINIMUMS`.
 */
export function findFluidMinimum(name: string): FluidMinimum | undefined {
  // hasOwn has just shown that the name is a class
  return Object.hasOwn(FLUID_MINIMUMS, name) ? FLUID_MINIMUMS[name as FluidClass] : undefined;
}

/**
 * Whether a class promises at least the boiling points of another, fresh and wet, and is the same kind of fluid.
 * `undefined` when one of them has no minimums. Never compares the numbers in the names. Compares °C; the answer has
 * no unit. Never throws. Source: that of each row of `FLUID_MINIMUMS`.
 */
export function fluidClassCovers(have: string, need: string): boolean | undefined {
  const [first, second] = [findFluidMinimum(have), findFluidMinimum(need)];
  if (first === undefined || second === undefined) return undefined;
  return first.silicone === second.silicone && first.dryC >= second.dryC && first.wetC >= second.wetC;
}

/** What a brake fluid is made of. Fluids of one kind may be mixed; no two kinds ever. */
export const FLUID_KINDS = ['glycol', 'silicone', 'mineral'] as const;
type FluidKind = (typeof FLUID_KINDS)[number];

/**
 * What a fluid of this class is made of, by the class as the catalogue writes it. `undefined` where it is not known:
 * `other`, `unknown`. No units. Never throws.
 *
 * @see 49 CFR 571.116 S5.1.14 (agency letter of 1980): a colour for each kind, so that kinds that do not go together are
 * not mixed; which classes go together is common practice: DOT 3, DOT 4 and DOT 5.1 do, DOT 5 and mineral oil with none
 */
export function fluidKindOf(fluidClass: string): FluidKind | undefined {
  if (fluidClass === 'mineral-oil') return 'mineral';
  const minimum = findFluidMinimum(fluidClass);
  if (minimum === undefined) return undefined;
  return minimum.silicone ? 'silicone' : 'glycol';
}

/**
 * Whether two fluids may be in one system; `undefined` where the kind of one is not known. No units. Never throws. Source:
 * that of `fluidKindOf`.
 */
export function fluidsMix(one: string, other: string): boolean | undefined {
  const [first, second] = [fluidKindOf(one), fluidKindOf(other)];
  return first === undefined || second === undefined ? undefined : first === second;
}

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
