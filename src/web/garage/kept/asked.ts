import { type AnswerType, isAskedByNow, type SimpleAnswerType } from '../../../domain/catalogue/item.ts';
import type { Finding } from '../../api/operations.ts';
import type { FormItem } from './form.ts';

const RANK = { bar: 0, inspect: 1, advise: 2, no: 3 } as const;

/** Findings of one rule that say the same, at one place or more. */
export interface FixGroup {
  ruleId: string;
  /** the one that is furthest outside stands for all */
  worst: Finding;
  findings: readonly Finding[];
}

/** How far outside relative to the limit: 3 mm of 4 mm is 0.25. An answer that is only missing comes after what is wrong. */
function shortfall({ result, margin, bounds }: Finding): number {
  if (result === 'unanswerable') return 0;
  if (margin === undefined) return 1;
  const size = Math.abs(bounds?.min?.value ?? bounds?.max?.value ?? 0);
  return -margin.value / (size === 0 ? 1 : size);
}

/** What is to be done, in order of importance: what bars first, then what is furthest outside its limit. */
export function fixesOf(findings: readonly Finding[]): FixGroup[] {
  const groups = new Map<string, Finding[]>();
  for (const finding of findings) {
    if (finding.result === 'met' || finding.watched === true) continue;
    const name = `${finding.ruleId}\n${finding.counts}\n${finding.message}`;
    groups.set(name, [...(groups.get(name) ?? []), finding]);
  }
  return [...groups.values()]
    .map((members) => {
      const sorted = members.toSorted(byWeight);
      // a group has at least the finding that made it
      const worst = sorted[0] as Finding;
      return { ruleId: worst.ruleId, worst, findings: sorted };
    })
    .toSorted((a, b) => byWeight(a.worst, b.worst));
}

function byWeight(a: Finding, b: Finding): number {
  const rank = RANK[a.counts] - RANK[b.counts];
  if (rank !== 0) return rank;
  const [first, second] = [shortfall(a), shortfall(b)];
  return first === second ? 0 : second - first;
}

/** What to do about it; an answer that is missing is to be given, and nothing else is known yet. */
export const fixOf = ({ result, fix }: Finding): string => (result === 'not-met' ? fix : '');

/** A rule that reads several answers is about the first of them; the others only come into it. */
export const isAbout = ({ items }: Finding, key: string): boolean => items[0] === key;

/** How many places still stop the car, need a look, or are advice. */
export function countFixes(findings: readonly Finding[]): { bar: number; inspect: number; advise: number } {
  const count = { bar: 0, inspect: 0, advise: 0 };
  for (const { worst } of fixesOf(findings)) if (worst.counts !== 'no') count[worst.counts] += 1;
  return count;
}

export type { FormItem };

/** Where one value is typed: an item, at a position, in a part of a composite answer. */
export interface Place {
  cell: string;
  key: string;
  position: string | undefined;
  field: string | undefined;
  type: SimpleAnswerType;
  /** of a part: its label, and whether the answer is none without it */
  part: { label: string; required: boolean } | undefined;
}

/** The type of an item's answer, which the document of the API leaves open. */
export const typeOf = (item: FormItem): AnswerType => item.answer as AnswerType;

/** As the API names cells: `key`, `key@position`, `key#field`, `key@position#field`. */
export function cellOf(key: string, position?: string, field?: string): string {
  return `${key}${position === undefined ? '' : `@${position}`}${field === undefined ? '' : `#${field}`}`;
}

export function placeOfCell(cell: string): { key: string; position: string | undefined; field: string | undefined } {
  const [place = '', field] = cell.split('#');
  const [key = '', position] = place.split('@');
  return { key, position, field };
}

/** The places of an item at one position (or at none). */
export function placesAt(item: FormItem, position: string | undefined): Place[] {
  const type = typeOf(item);
  const { key } = item;
  if (type.kind !== 'fields') {
    return [{ cell: cellOf(key, position), key, position, field: undefined, type, part: undefined }];
  }
  return Object.entries(type.fields).map(([field, { type: of, required, label }]) => ({
    cell: cellOf(key, position, field),
    key,
    position,
    field,
    type: of,
    part: { label, required },
  }));
}

export const positionsOf = (item: FormItem): readonly (string | undefined)[] => item.positions ?? [undefined];

export const placesOf = (item: FormItem): Place[] => positionsOf(item).flatMap((at) => placesAt(item, at));

/** In the place of a position: all places of an item. */
const ALL = '*';
/** Where the lowest value of an item stands. */
export const LOWEST_AT = { axle: ['front', 'rear'], wheel: ['FL', 'FR', 'RL', 'RR'] } as const;

/** The places that the lowest value of an item is given at on this car. */
export function lowestPlaces(item: FormItem): Place[] {
  const { lowestOf, positions = [] } = item;
  if (lowestOf === undefined) return [];
  const has = (at: string): boolean =>
    positions.some(
      (one) => one.startsWith(at) || (at === 'front' ? one.startsWith('F') : at === 'rear' && one.startsWith('R')),
    );
  return LOWEST_AT[lowestOf].filter(has).flatMap((at) => placesAt(item, at));
}

/** Every place a value may stand at: its own places, all of them at once, and where the lowest is given. */
export const everyPlace = (item: FormItem): Place[] => [
  ...placesOf(item),
  ...(item.positions === undefined ? [] : placesAt(item, ALL)),
  ...lowestPlaces(item),
];

/** Items that the entrant answers. */
export const isAsked = (item: FormItem): boolean => item.answeredBy !== 'inspector';

/** The items, and their places, that are asked by now: what waits for another answer is shown once that is given. */
export function shownOf(items: readonly FormItem[], answerAt: (cell: string) => unknown): FormItem[] {
  return items.flatMap((item) => {
    const { askedAfter, positions } = item;
    if (askedAfter === undefined) return [item];
    const isPlaced = items.find(({ key }) => key === askedAfter.item)?.positions !== undefined;
    const isShown = (position: string | undefined): boolean =>
      isAskedByNow(askedAfter, answerAt(cellOf(askedAfter.item, isPlaced ? position : undefined)));
    if (positions === undefined) return isShown(undefined) ? [item] : [];
    const shown = positions.filter(isShown);
    return shown.length === 0 ? [] : [{ ...item, positions: shown }];
  });
}
