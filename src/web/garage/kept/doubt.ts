import { convert, isUnit, roundTo } from '../../../domain/quantity.ts';
import { type FormItem, type Place, everyPlace } from './asked.ts';
import { type Cells, isNoAnswer, type Leaf, sameLeaf } from './cells.ts';

/** Slips that people make: the decimal point left out or added, a number in another unit. Common practice, no source. */
const SLIPS = [0.1, 10, 0.01, 100, 25.4, 25.4 / 32] as const;

/** A number that such a thing hardly has, and the one that was probably meant, both as the item keeps them. */
export interface Doubt {
  value: number;
  meant: number | undefined;
  /** the server takes it when it is said a second time */
  isPossible: boolean;
}

/** Whether a number is outside of what such a thing usually has; what is possible at all is the server's to say. */
export function doubtAbout({ type }: Pick<Place, 'type'>, leaf: Leaf | undefined): Doubt | undefined {
  if (type.kind !== 'number' || type.plausible === undefined) return undefined;
  const given = valueIn(leaf, type.unit);
  const [from, to] = type.plausible;
  if (given === undefined || (given >= from && given <= to)) return undefined;
  const value = roundTo(given, type.decimals);
  const isMeant = (one: number): boolean => one > from && one <= to && one >= type.min && one <= type.max;
  const lengths = type.unit === 'mm' ? SLIPS : SLIPS.slice(0, 4);
  const meant = lengths.map((slip) => roundTo(value * slip, type.decimals)).find(isMeant);
  return { value, meant, isPossible: value >= type.min && value <= type.max };
}

function valueIn(leaf: Leaf | undefined, unit: string): number | undefined {
  if (typeof leaf === 'number') return leaf;
  if (typeof leaf !== 'object' || Array.isArray(leaf) || isNoAnswer(leaf)) return undefined;
  const { value, unit: from } = leaf as { value: number; unit: string };
  return isUnit(from) && isUnit(unit) ? convert(value, from, unit) : undefined;
}

/** Cells with a number that is in doubt and that nobody has confirmed; what the server has was confirmed. */
export function doubtedCells(
  items: readonly FormItem[],
  cells: Cells,
  { saved, confirmed }: { saved: Cells; confirmed: Cells },
): string[] {
  return items.flatMap(everyPlace).flatMap((place) => {
    const { cell } = place;
    if (doubtAbout(place, cells[cell])?.isPossible !== true) return [];
    const isSettled = sameLeaf(cells[cell], saved[cell]) || sameLeaf(cells[cell], confirmed[cell]);
    return isSettled ? [] : [cell];
  });
}
