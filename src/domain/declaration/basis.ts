import { type AnswerValue, cellKey, type FaultCode, isJsonObject, quote } from './read-answer.ts';
import { placeOfName } from './no-answer.ts';
import { type Item, POSITION_KEYS, type SimpleAnswerType } from '../catalogue/item.ts';

/**
 * Which signature stands behind an answer, by its place: `oil.grade`, `pad.thickness@FL.in`, `pad.thickness@front` where
 * the lowest was given. What is not named was said by whoever declares.
 */
export type Said = Readonly<Record<string, string>>;

type Answers = ReadonlyMap<string, AnswerValue>;

/** The answers of each place as one text: values, what they rest on, and that there is none. */
function byPlace(answers: Answers): Map<string, string> {
  const parts = new Map<string, [string, AnswerValue][]>();
  for (const [name, value] of answers) {
    const place = placeOfName(name).place.split('#')[0] ?? name;
    parts.set(place, [...(parts.get(place) ?? []), [name, value]]);
  }
  const inOrder = (all: [string, AnswerValue][]) => JSON.stringify(all.toSorted(([a], [b]) => (a < b ? -1 : 1)));
  return new Map([...parts].map(([place, all]) => [place, inOrder(all)]));
}

/** The places that have another answer than before, or one for the first time; what was taken away is none of them. */
export function placesChanged(before: Answers, after: Answers): string[] {
  const was = byPlace(before);
  return [...byPlace(after)].filter(([place, said]) => was.get(place) !== said).map(([place]) => place);
}

/**
 * Who said what, of answers that follow on others: a signature stands for an answer as it was signed, and ends with the
 * first change of it.
 *
 * @param said of the answers before
 */
export function stillSaid(said: Said, before: Answers, after: Answers): Said {
  if (Object.keys(said).length === 0) return {};
  const [was, is] = [byPlace(before), byPlace(after)];
  return Object.fromEntries(
    Object.entries(said).filter(([place]) => is.get(place) !== undefined && is.get(place) === was.get(place)),
  );
}

/** How one value stands for more than the place it was read at. */
export const BASES = ['lowest-of-tyre', 'lowest-of-axle', 'same-as', 'each-place'] as const;
type Basis = (typeof BASES)[number];

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

function keepBasis(to: Map<string, AnswerValue>, place: string, { basis, of }: AnswerBasis): void {
  to.set(nameOf(place), basis === 'same-as' ? `${SAME_AS}${of ?? ''}` : basis);
}

/** Whether a raw answer says what it rests on, well written or not. */
export const hasBasis = (raw: unknown): raw is Record<string, unknown> =>
  isJsonObject(raw) && Object.hasOwn(raw, 'basis');

/** Where what was read goes, and where faults do. */
export interface BasisReader {
  answers: Map<string, AnswerValue>;
  fault(steps: readonly string[], code: FaultCode, detail: string): void;
  /** reads an answer of one place as it is sent */
  place(position: string, raw: unknown, steps: readonly string[]): void;
}

function shapeFault(
  reader: BasisReader,
  raw: Readonly<Record<string, unknown>>,
  steps: readonly string[],
  parts: readonly string[],
): boolean {
  const extra = Object.keys(raw).filter((name) => name !== 'basis' && !parts.includes(name));
  for (const name of extra) {
    reader.fault([...steps, name], 'unknown-field', `has only basis and ${parts.join(' and ')} here`);
  }
  return extra.length > 0;
}

/** The cells of one place, copied to another that was seen to be the same. */
function copyCells(answers: Map<string, AnswerValue>, item: Item, from: string, to: string): boolean {
  const fields = item.answer.kind === 'fields' ? Object.keys(item.answer.fields) : [undefined];
  let isGiven = false;
  for (const field of fields) {
    const value = answers.get(cellKey(item.key, from, field));
    if (value === undefined) continue;
    answers.set(cellKey(item.key, to, field), value);
    isGiven = true;
  }
  return isGiven;
}

/**
 * One value for all places of a look, with the places that differ: `{"basis": "each-place", "value": "none", "except":
 * {"RL": "crack"}}`. Somebody looked at each of them, so that it counts as an answer of each. Not for what wears: there a
 * value of each place is measured, or the lowest is.
 */
export function readEachPlace(reader: BasisReader, item: Item, raw: Readonly<Record<string, unknown>>): void {
  const { key } = item;
  const scheme = item.positions;
  if (raw['basis'] !== 'each-place' || scheme === undefined) {
    return reader.fault([key, 'basis'], 'unknown-option', `${quote(raw['basis'])} is not each-place`);
  }
  if (item.lowestOf !== undefined) {
    return reader.fault([key, 'basis'], 'unknown-option', 'is measured at each place, or the lowest of them is given');
  }
  if (shapeFault(reader, raw, [key], ['value', 'except'])) return;
  const except = raw['except'] ?? {};
  if (!isJsonObject(except)) return reader.fault([key, 'except'], 'wrong-type', 'must be an object by position');
  const known: readonly string[] = POSITION_KEYS[scheme];
  readExceptions(reader, key, known, except);
  readAlike(reader, key, known, { except, value: raw['value'], item });
}

function readExceptions(
  reader: BasisReader,
  key: string,
  known: readonly string[],
  except: Readonly<Record<string, unknown>>,
): void {
  for (const [position, answer] of Object.entries(except)) {
    if (known.includes(position)) reader.place(position, answer, [key, 'except', position]);
    else reader.fault([key, 'except', position], 'unknown-position', `is asked only at ${known.join(', ')}`);
  }
}

function readAlike(
  reader: BasisReader,
  key: string,
  known: readonly string[],
  { except, value, item }: { except: Readonly<Record<string, unknown>>; value: unknown; item: Item },
): void {
  const alike = known.filter((position) => !Object.hasOwn(except, position));
  const [first, ...others] = alike;
  if (first === undefined) return;
  reader.place(first, value, [key, 'value']);
  for (const position of others) copyCells(reader.answers, item, first, position);
  if (!copyCells(reader.answers, item, first, first)) return;
  for (const position of alike) keepBasis(reader.answers, cellKey(key, position), { basis: 'each-place' });
}

/** The lowest value of an axle or a tyre, once: `{"front": {"basis": "lowest-of-axle", "value": 7.2}}`. */
export function readLowest(reader: BasisReader, item: Item, position: string, raw: unknown): void {
  if (raw === null || raw === undefined) return;
  const { key } = item;
  const basis = lowestOf(item)?.basis ?? 'lowest-of-axle';
  if (!hasBasis(raw)) return reader.fault([key, position], 'missing-field', `needs value and basis ${quote(basis)}`);
  if (raw['basis'] !== basis) {
    return reader.fault([key, position, 'basis'], 'unknown-option', `${quote(raw['basis'])} is not ${basis}`);
  }
  if (shapeFault(reader, raw, [key, position], ['value'])) return;
  reader.place(position, raw['value'], [key, position, 'value']);
  const place = cellKey(key, position);
  if (reader.answers.has(place)) keepBasis(reader.answers, place, { basis });
}

/** A place that is the same as another one that has an answer of its own: `{"FR": {"basis": "same-as", "of": "FL"}}`. */
export function readSameAs(
  reader: BasisReader,
  item: Item,
  position: string,
  raw: Readonly<Record<string, unknown>>,
  all: Readonly<Record<string, unknown>>,
): void {
  const { key } = item;
  if (raw['basis'] !== 'same-as') {
    return reader.fault([key, position, 'basis'], 'unknown-option', `${quote(raw['basis'])} is not same-as`);
  }
  if (shapeFault(reader, raw, [key, position], ['of'])) return;
  const { of } = raw;
  const own = typeof of === 'string' && Object.hasOwn(all, of) ? all[of] : undefined;
  if (typeof of !== 'string' || own === undefined || own === null || hasBasis(own)) {
    return reader.fault([key, position, 'of'], 'unknown-position', 'must name a place that has an answer of its own');
  }
  // a fault there is reported there
  if (copyCells(reader.answers, item, of, position)) {
    keepBasis(reader.answers, cellKey(key, position), { basis: 'same-as', of });
  }
}
