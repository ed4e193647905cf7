import { POSITION_KEYS } from '../catalogue/item.ts';
import { type Answers, cellKey } from '../declaration/declaration.ts';
import type { WetTyres } from './wet-tyres.ts';

/** Common practice, no source; each rule set may name its own (`wetTreadMinimum`). */
export const WET_TREAD_MINIMUM_MM = 3;

const ZONES = POSITION_KEYS['wheel-zone'];
const WHEELS = POSITION_KEYS.wheel;

/**
 * Decides by the kind of tyres and the tread: of each tyre the lowest, or each of its three places; what was measured wins
 * over what was declared. A tyre of which every place is 0 is a slick, too. One groove below the limit is enough to say no; a
 * yes needs all tyres.
 *
 * @param limitMm exactly so much is enough
 * @returns undefined when a tyre is not known and none of those that are is too low
 */
export function decideWetTyres(answers: Answers, measured: Answers | undefined, limitMm: number): WetTyres | undefined {
  const read = (cell: string) => measured?.get(cell) ?? answers.get(cell);
  const tyres = WHEELS.map((wheel) => depthsOf(wheel, read));
  if (read('tyre.kind') === 'slick' || tyres.some(isSlick)) return { fit: false, why: 'slicks' };
  const lowestMm = Math.min(...tyres.flatMap(({ lowest, zones }) => [...zones, ...lowest]));
  if (lowestMm < limitMm) return { fit: false, why: 'grooves', lowestMm, limitMm };
  return tyres.every(isKnown) ? { fit: true } : undefined;
}

interface Depths {
  /** what was measured as the lowest of the tyre; one value or none */
  lowest: readonly number[];
  /** at its three places, as far as they are known */
  zones: readonly number[];
}

const PLACES_OF_A_TYRE = ZONES.length / WHEELS.length;
const isDepth = (value: unknown): value is number => typeof value === 'number';

function depthsOf(wheel: string, read: (cell: string) => unknown): Depths {
  const zones = ZONES.filter((zone) => zone.startsWith(`${wheel}.`));
  return {
    lowest: [read(cellKey('tyre.tread-lowest', wheel))].filter(isDepth),
    zones: zones.map((zone) => read(cellKey('tyre.tread', zone))).filter(isDepth),
  };
}

const isKnown = ({ lowest, zones }: Depths): boolean => lowest.length > 0 || zones.length === PLACES_OF_A_TYRE;

const isSlick = ({ zones }: Depths): boolean => zones.length === PLACES_OF_A_TYRE && zones.every((mm) => mm === 0);
