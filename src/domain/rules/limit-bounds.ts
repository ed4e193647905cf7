import { parseUnit, type Unit } from '../quantity.ts';

interface Bound {
  value: number;
  unit: Unit;
}

/** A limit as numbers, for whoever shows it in another unit. */
export interface LimitBounds {
  min?: Bound;
  max?: Bound;
  /** the bound itself is outside: more than, less than */
  exclusive?: true;
  /** the limit is on a difference between places: 5 °C of spread are 9 °F */
  spread?: true;
}

const NUMBER = String.raw`-?\d+(?:\.\d+)?(?:e[+-]?\d+)?`;
const ONE = new RegExp(`^(≥|>|≤|<|=|spread ≤) (${NUMBER})(.*)$`, 'u');
const RANGE = new RegExp(`^(${NUMBER})(.*) to (${NUMBER})(.*)$`, 'u');

/** The unit behind a number as `formatQuantity` writes it. */
function unitAfter(text: string): Unit | undefined {
  if (text === '') return '1';
  if (text === '°') return 'deg';
  if (text === '/32 in') return '1/32in';
  return text.startsWith(' ') ? parseUnit(text) : undefined;
}

function bound(number: string | undefined, unitText: string | undefined): Bound | undefined {
  const unit = unitAfter(unitText ?? '');
  const value = Number(number);
  return unit === undefined || !Number.isFinite(value) ? undefined : { value, unit };
}

/**
 * The numbers in the text of a limit (`≥ 4 mm`, `1 kPa to 5 kPa`, `spread ≤ 2 mm`). It reads texts, so that revisions
 * judged long ago have them too.
 *
 * @returns `undefined` for a limit that is no number in a unit: a list, a date, a count of photos
 */
export function boundsOf(limit: string | undefined): LimitBounds | undefined {
  if (limit === undefined) return undefined;
  const range = RANGE.exec(limit);
  if (range !== null) {
    const [min, max] = [bound(range[1], range[2]), bound(range[3], range[4])];
    return min === undefined || max === undefined ? undefined : { min, max };
  }
  const [, sign, number, unitText] = ONE.exec(limit) ?? [];
  const only = sign === undefined ? undefined : bound(number, unitText);
  if (only === undefined) return undefined;
  switch (sign) {
    case '≥':
      return { min: only };
    case '>':
      return { min: only, exclusive: true };
    case '<':
      return { max: only, exclusive: true };
    case '=':
      return { min: only, max: only };
    case 'spread ≤':
      return { max: only, spread: true };
    default:
      return { max: only };
  }
}
