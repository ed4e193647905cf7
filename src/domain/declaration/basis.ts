import { type Item, POSITION_KEYS, type SimpleAnswerType } from '../catalogue/item.ts';
import type { AnswerValue } from './cell.ts';
import { isJsonObject } from './read-answer.ts';

/** How one value stands for more than the place it was read at. */
export const BASES = ['lowest-of-tyre', 'lowest-of-axle', 'same-as', 'each-place'] as const;
export type Basis = (typeof BASES)[number];

/** What an answer rests on, where it was not read at its place alone. */
export interface AnswerBasis {
  basis: Basis;
  /** of `same-as`: the position whose value it is */
  of?: string;
}

/** The basis that names the lowest value of a part of the car, by what the catalogue lets an item be the lowest of. */
const LOWEST = { axle: 'lowest-of-axle', wheel: 'lowest-of-tyre' } as const satisfies Record<
  NonNullable<Item['lowestOf']>,
  Basis
>;

/** The basis of the lowest value of an item, and the positions it is given at; undefined where there is none. */
export function lowestOf(item: Item): { basis: Basis; positions: readonly string[] } | undefined {
  const { lowestOf: scheme } = item;
  return scheme === undefined ? undefined : { basis: LOWEST[scheme], positions: POSITION_KEYS[scheme] };
}

/** The position in whose lowest value a place has its part: `front` for `FL.in` by the axle. */
export function lowestAround(item: Item, position: string): string | undefined {
  const { lowestOf: scheme, positions } = item;
  if (scheme === undefined || positions === undefined) return undefined;
  const wheel = position.split('.')[0] ?? position;
  if (scheme === 'wheel') return wheel;
  return wheel.startsWith('F') ? 'front' : 'rear';
}

/** In the place of a position: all places of an item, each looked at. */
export const EACH_PLACE = '*';

const LOOKS: ReadonlySet<SimpleAnswerType['kind']> = new Set(['choice', 'yes-no', 'confirm']);

/**
 * Whether an item is looked at place by place, so that "all are so" is one answer: what is chosen or confirmed, and the
 * date code, which all four tyres of a set share. What is measured or read from another label is a value of its own at
 * each place.
 */
export function isLook({ positions, answer }: Item): boolean {
  if (positions === undefined) return false;
  const parts = answer.kind === 'fields' ? Object.values(answer.fields).filter(({ required }) => required) : [];
  const types = answer.kind === 'fields' ? parts.map(({ type }) => type) : [answer];
  const isSeen = (type: SimpleAnswerType): boolean =>
    LOOKS.has(type.kind) || (type.kind === 'text' && type.asPrinted === 'tyre-date-code');
  return types.length > 0 && types.every(isSeen);
}

/** The name under which `Answers` keep what an answer rests on: no cell of the catalogue ends so. */
const nameOf = (place: string): string => `${place}~`;

/** Whether a name in `Answers` says what an answer rests on. */
export const isBasisName = (name: string): boolean => name.endsWith('~');

const SAME_AS = 'same-as ';

/** What the answer at a cell, or at the place around it, rests on; undefined: it was read there. */
export function basisAt(answers: ReadonlyMap<string, AnswerValue>, cell: string): AnswerBasis | undefined {
  const [place = cell] = cell.split('#');
  const said = answers.get(nameOf(place));
  if (typeof said !== 'string') return undefined;
  if (said.startsWith(SAME_AS)) return { basis: 'same-as', of: said.slice(SAME_AS.length) };
  return { basis: BASES.find((one) => one === said) ?? 'each-place' };
}

export function keepBasis(to: Map<string, AnswerValue>, place: string, { basis, of }: AnswerBasis): void {
  to.set(nameOf(place), basis === 'same-as' ? `${SAME_AS}${of ?? ''}` : basis);
}

/** Whether a raw answer says what it rests on, well written or not. */
export const hasBasis = (raw: unknown): raw is Record<string, unknown> =>
  isJsonObject(raw) && Object.hasOwn(raw, 'basis');
