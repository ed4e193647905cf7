import { z } from 'zod';
import { type AnswerType, isAskedByNow, type Item, POSITION_KEYS, type SimpleAnswerType } from '../catalogue/item.ts';
import { CATALOGUE, findItem, itemApplies, positionsFor } from '../catalogue/catalogue.ts';
import {
  type AnswerValue,
  type Cell,
  cellKey,
  type FaultCode,
  isJsonObject,
  quote,
  readAnswer,
} from './read-answer.ts';
import {
  basisAt,
  type BasisReader,
  hasBasis,
  isBasisName,
  lowestAround,
  lowestOf,
  readEachPlace,
  readLowest,
  readSameAs,
} from './basis.ts';
import { jsonPointer } from '../json-pointer.ts';
import { isNoAnswer, keepNoAnswer, noAnswerAt, placeOfName, readNoAnswer } from './no-answer.ts';
import type { Vehicle } from '../vehicle.ts';

export { type AnswerValue, type Cell, cellKey } from './read-answer.ts';

/** The entrant's answers as sent: item key → answer. Checked by `parseAnswers`, which names every fault. */
export const RawAnswers = z
  .record(z.string(), z.unknown())
  .describe(
    'Answers by item key; a positioned item holds its answers by position; null is not answered. In the place of an answer: `{"doesNotApply": reason}` with a reason that the item takes, or `{"notSure": true}`: the line then looks. One value for several places says what it rests on: `{"basis": "each-place", "value": answer, "except": {position: answer}}` for all places of an item, each looked at; `{"basis": "same-as", "of": position}` at a place; `{"basis": "lowest-of-axle", "value": number}` at `front` and `rear`, or `{"basis": "lowest-of-tyre", "value": number}` at a wheel, for an item whose `lowestOf` says so',
  );
export type RawAnswers = z.infer<typeof RawAnswers>;

/**
 * Answers by cell: `oil.grade`, `pad.thickness@FL.in`, `exhaust.sound-level#level`, `wheel-play.nine-three@FL#felt`. Where
 * it was said that there is no answer, that stands beside them (`noAnswerAt`): no rule reads it as a value. So does what an
 * answer rests on (`basisAt`); the lowest of an axle stands once, at `pad.thickness@front`.
 */
export type Answers = ReadonlyMap<string, AnswerValue>;

/** What is wrong with an answer; `pointer` is an RFC 6901 JSON Pointer from the answers object down. */
export interface AnswerFault {
  pointer: string;
  code: FaultCode;
  /** for the entrant: what would be right */
  detail: string;
}

export type ParsedAnswers =
  | { ok: true; answers: Answers }
  /** `more`: how many faults were found beyond those that are listed */
  | { ok: false; faults: readonly AnswerFault[]; more: number };

/** Faults that are listed. A body may hold a hundred thousand, and nobody reads them. */
const MAX_FAULTS = 100;

/** The cell of a name made by `cellKey`, or the place of one that says there is no answer. */
export function parseCellKey(cell: string): Cell {
  const [place = '', field] = placeOfName(cell).place.split('#');
  const [key = '', position] = place.split('@');
  return { key, ...(position !== undefined && { position }), ...(field !== undefined && { field }) };
}

/** What reading collects: cells that are good and faults that are not. */
interface Outcome {
  answers: Map<string, AnswerValue>;
  faults: AnswerFault[];
  more: number;
}

type Steps = readonly string[];
type FieldsType = Extract<AnswerType, { kind: 'fields' }>;

function report(to: Outcome, steps: Steps, code: FaultCode, detail: string): void {
  if (to.faults.length < MAX_FAULTS) to.faults.push({ pointer: jsonPointer(steps), code, detail });
  else to.more += 1;
}

const isUnanswered = (value: unknown): boolean => value === null || value === undefined;

function readCell(to: Outcome, cell: Cell, type: SimpleAnswerType, raw: unknown, steps: Steps): void {
  if (isUnanswered(raw)) return;
  const read = readAnswer(type, raw);
  if (read.ok) {
    to.answers.set(cellKey(cell.key, cell.position, cell.field), read.value);
    return;
  }
  for (const { at, code, detail } of read.faults) report(to, [...steps, ...at], code, detail);
}

function readFields(to: Outcome, cell: Cell, type: FieldsType, raw: unknown, steps: Steps): void {
  const names = Object.keys(type.fields).join(', ');
  if (!isJsonObject(raw)) {
    report(to, steps, 'wrong-type', `must be an object with the fields ${names}`);
    return;
  }
  const given = new Map(Object.entries(raw));
  for (const name of given.keys()) {
    if (!Object.hasOwn(type.fields, name))
      report(to, [...steps, name], 'unknown-field', `has only the fields ${names}`);
  }
  if (given.size === 0) report(to, steps, 'missing-field', `needs at least one of the fields ${names}`);
  for (const [name, field] of Object.entries(type.fields)) {
    if (given.has(name)) readCell(to, { ...cell, field: name }, field.type, given.get(name), [...steps, name]);
    else if (field.required && given.size > 0) report(to, steps, 'missing-field', `needs the field ${name}`);
  }
}

/** That there is no answer, said of one place or, once, of all places of an item. */
function readNone(to: Outcome, item: Item, places: readonly Cell[], raw: Record<string, unknown>, steps: Steps): void {
  const read = readNoAnswer(raw, item.doesNotApply ?? []);
  if (!read.ok) return report(to, [...steps, ...read.fault.at], read.fault.code, read.fault.detail);
  for (const { key, position } of places) keepNoAnswer(to.answers, cellKey(key, position), read.said);
}

function readPlace(to: Outcome, item: Item, cell: Cell, raw: unknown, steps: Steps): void {
  if (isUnanswered(raw)) return;
  if (isNoAnswer(raw)) return readNone(to, item, [cell], raw, steps);
  if (item.answer.kind === 'fields') readFields(to, cell, item.answer, raw, steps);
  else readCell(to, cell, item.answer, raw, steps);
}

function readItem(to: Outcome, item: Item, raw: unknown): void {
  if (isUnanswered(raw)) return;
  const { key, positions } = item;
  if (positions === undefined) {
    readPlace(to, item, { key }, raw, [key]);
    return;
  }
  const known: readonly string[] = POSITION_KEYS[positions];
  if (isNoAnswer(raw)) {
    const places = known.map((position) => ({ key, position }));
    return readNone(to, item, places, raw, [key]);
  }
  if (!isJsonObject(raw)) {
    report(to, [key], 'wrong-type', `must be an object with one answer for each of ${known.join(', ')}`);
    return;
  }
  readPlaces(to, item, known, raw);
}

function readPlaces(to: Outcome, item: Item, known: readonly string[], raw: Record<string, unknown>): void {
  const { key } = item;
  const reader = basisReader(to, item);
  if (hasBasis(raw)) return readEachPlace(reader, item, raw);
  const lowest = lowestOf(item)?.positions ?? [];
  for (const [position, answer] of Object.entries(raw)) {
    if (known.includes(position)) {
      if (!hasBasis(answer)) readPlace(to, item, { key, position }, answer, [key, position]);
    } else if (lowest.includes(position)) readLowest(reader, item, position, answer);
    else report(to, [key, position], 'unknown-position', `is asked only at ${[...known, ...lowest].join(', ')}`);
  }
  for (const [position, answer] of Object.entries(raw)) {
    if (known.includes(position) && hasBasis(answer)) readSameAs(reader, item, position, answer, raw);
  }
}

const basisReader = (to: Outcome, item: Item): BasisReader => ({
  answers: to.answers,
  fault: (steps, code, detail) => report(to, steps, code, detail),
  place: (position, raw, steps) => readPlace(to, item, { key: item.key, position }, raw, steps),
});

/**
 * Reads a declaration's answers against the catalogue: types, units, bounds, options, positions, fields.
 *
 * Whether an item applies to the car is not looked at: an answer that does not apply is kept (`listNotApplicable`).
 * `null` and `undefined` are "not answered". Numbers come out in the item's unit, rounded to its decimals.
 *
 * @param raw any value, as JSON decodes it
 * @returns the answers by cell, or the faults with their places; never throws
 */
export function parseAnswers(raw: unknown): ParsedAnswers {
  const to: Outcome = { answers: new Map(), faults: [], more: 0 };
  if (!isJsonObject(raw)) {
    report(to, [], 'wrong-type', 'answers must be an object with one answer for each item key');
    return { ok: false, faults: to.faults, more: to.more };
  }
  for (const [key, answer] of Object.entries(raw)) {
    const item = findItem(key);
    if (item === undefined) report(to, [key], 'unknown-item', `the catalogue has no item ${quote(key)}`);
    else readItem(to, item, answer);
  }
  return to.faults.length > 0 ? { ok: false, faults: to.faults, more: to.more } : { ok: true, answers: to.answers };
}

/** The cells of a composite answer that count as not answered yet at one place. */
function missingFields(answers: Answers, place: Cell, type: FieldsType): Cell[] {
  const { key, position } = place;
  if (noAnswerAt(answers, cellKey(key, position)) !== undefined) return [];
  const has = (field: string): boolean => answers.has(cellKey(key, position, field));
  const names = Object.keys(type.fields);
  const required = names.filter((name) => type.fields[name]?.required);
  // a composite of optional parts is one question: any part answers it
  if (required.length === 0) return names.some(has) ? [] : [place];
  return required.filter((field) => !has(field)).map((field) => ({ ...place, field }));
}

/** Whether an item is asked at a place by now, given the answer that it may wait for. */
export function isAsked({ askedAfter }: Item, position: string | undefined, answers: Answers): boolean {
  if (askedAfter === undefined) return true;
  const at = findItem(askedAfter.item)?.positions === undefined ? undefined : position;
  return isAskedByNow(askedAfter, answers.get(cellKey(askedAfter.item, at)));
}

function missingOf(item: Item, answers: Answers, vehicle: Vehicle): Cell[] {
  if (!itemApplies(item, vehicle)) return [];
  const positions = positionsFor(item, vehicle);
  const all: Cell[] = positions?.map((position) => ({ key: item.key, position })) ?? [{ key: item.key }];
  const places = all.filter(({ position }) => isAsked(item, position, answers));
  const { answer } = item;
  if (answer.kind === 'fields') return places.flatMap((place) => missingFields(answers, place, answer));
  const isOpen = (cell: string): boolean => !answers.has(cell) && noAnswerAt(answers, cell) === undefined;
  return places.filter(({ key, position }) => {
    const around = position === undefined ? undefined : lowestAround(item, position);
    return isOpen(cellKey(key, position)) && (around === undefined || !answers.has(cellKey(key, around)));
  });
}

/**
 * The cells that apply to the car and have no answer, in catalogue order.
 *
 * @param by whose: items that both answer count for the entrant and for the inspector
 */
export function listMissing(answers: Answers, vehicle: Vehicle, by: 'entrant' | 'inspector'): Cell[] {
  const asked = CATALOGUE.filter((item) => item.answeredBy === by || item.answeredBy === 'both');
  return asked.flatMap((item) => missingOf(item, answers, vehicle));
}

function cellApplies({ key, position }: Cell, vehicle: Vehicle): boolean {
  const item = findItem(key);
  if (item === undefined || !itemApplies(item, vehicle)) return false;
  const positions = positionsFor(item, vehicle);
  if (positions === undefined) return true;
  return positions.some((one) => one === position || lowestAround(item, one) === position);
}

/**
 * The answered cells whose item or position does not apply to the car. They are kept, and no rule reads them. What was said
 * once of each place is of the places that the car has.
 */
export function listNotApplicable(answers: Answers, vehicle: Vehicle): Cell[] {
  const cells = [...answers.keys()].filter((name) => !isBasisName(name));
  const own = cells.filter((cell) => basisAt(answers, cell)?.basis !== 'each-place' || !itemIsOn(cell, vehicle));
  return own.map(parseCellKey).filter((cell) => !cellApplies(cell, vehicle));
}

function itemIsOn(cell: string, vehicle: Vehicle): boolean {
  const item = findItem(parseCellKey(cell).key);
  return item !== undefined && itemApplies(item, vehicle);
}
