import { POSITION_KEYS } from '../catalogue/item.ts';
import { type Answers, cellKey } from '../declaration/declaration.ts';
import type { WetTyres } from './wet-tyres.ts';

/** Common practice, no source; each rule set may name its own (`wetTreadMinimum`). */
export const WET_TREAD_MINIMUM_MM = 3;

const ZONES = POSITION_KEYS['wheel-zone'];
const WHEELS = POSITION_KEYS.wheel;

/**
 * Decides by the tread at each place; what was measured wins over what was declared. A tyre of which every place is 0 is a
 * slick. One groove below the limit is enough to say no; a yes needs all of them.
 *
 * @param limitMm exactly so much is enough
 * @returns undefined when a place is not known and none of those that are is too low
 */
export function decideWetTyres(answers: Answers, measured: Answers | undefined, limitMm: number): WetTyres | undefined {
  const depths = new Map<string, number>();
  for (const zone of ZONES) {
    const cell = cellKey('tyre.tread', zone);
    const depth = measured?.get(cell) ?? answers.get(cell);
    if (typeof depth === 'number') depths.set(zone, depth);
  }
  if (WHEELS.some((wheel) => isSlick(depths, wheel))) return { fit: false, why: 'slicks' };
  const lowestMm = Math.min(...depths.values());
  if (lowestMm < limitMm) return { fit: false, why: 'grooves', lowestMm, limitMm };
  return depths.size === ZONES.length ? { fit: true } : undefined;
}

function isSlick(depths: ReadonlyMap<string, number>, wheel: string): boolean {
  return ZONES.filter((zone) => zone.startsWith(`${wheel}.`)).every((zone) => depths.get(zone) === 0);
}
