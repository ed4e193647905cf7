import { convert, roundTo } from '../quantity.ts';
import type { TradeFault } from './calculation.ts';
import type { FluidMinimum } from './fluid-class-minimums.ts';

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
