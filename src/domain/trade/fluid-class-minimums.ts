import type { Standing } from './calculation.ts';

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

export type FluidClass = keyof typeof FLUID_MINIMUMS;
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
