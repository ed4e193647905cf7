import { findFluidMinimum } from './fluid-class-minimums.ts';

/** What a brake fluid is made of. Fluids of one kind may be mixed; no two kinds ever. */
export const FLUID_KINDS = ['glycol', 'silicone', 'mineral'] as const;
export type FluidKind = (typeof FLUID_KINDS)[number];

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
