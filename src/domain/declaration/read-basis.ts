import { type Item, POSITION_KEYS } from '../catalogue/item.ts';
import { hasBasis, keepBasis, lowestOf } from './basis.ts';
import { type AnswerValue, cellKey } from './cell.ts';
import { type FaultCode, isJsonObject, quote } from './read-answer.ts';

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
