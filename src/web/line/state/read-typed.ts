import { readPrinted } from '../../../domain/declaration/read-answer.ts';
import { conformityProbability } from '../../../domain/quantity.ts';
import { instrumentsFor, uncertaintyIn } from '../../../domain/line/instruments.ts';
import type { AnswerType, CatalogueItem, NamedInstrument, SignOffInput } from '../../api/operations.ts';
import type { PlaceEntry, Point } from './worksheet.ts';

type FieldsType = Extract<AnswerType, { kind: 'fields' }>;
export type SimpleType = Exclude<AnswerType, FieldsType>;
export type NumberType = Extract<SimpleType, { kind: 'number' }>;

/** One part of an answer that can be typed by itself. */
export interface Part {
  /** `value` where the answer has no parts */
  name: string;
  label: string | undefined;
  required: boolean;
  type: SimpleType;
}

/** What is wrong with what was typed; `key` is a text of the page. */
export interface TypedFault {
  part: string;
  key: 'fault.number' | 'fault.range' | 'fault.missing' | 'fault.text' | 'fault.readWith';
  values: Readonly<Record<string, string | number>>;
}

export type ReadTyped = { ok: true; value: unknown } | { ok: false; fault: TypedFault };

/** The parts of an answer; none for a kind that the line only looks at. */
export function partsOf({ answer }: CatalogueItem): readonly Part[] {
  if (answer.kind === 'choices') return [];
  if (answer.kind !== 'fields') return [{ name: 'value', label: undefined, required: true, type: answer }];
  return Object.entries(answer.fields).map(([name, { label, required, type }]) => ({ name, label, required, type }));
}

/** Whether a value can be given at a place: a whole-car point of an item that is asked by position has only marks. */
export function isMeasurable(item: CatalogueItem | undefined, position: string | undefined): boolean {
  if (item === undefined || partsOf(item).length === 0) return false;
  return item.positions === undefined ? position === undefined : item.positions.includes(position ?? '');
}

/** The value for the server of what was typed at a place; the caller knows that something was. */
export function readTyped(item: CatalogueItem, typed: Readonly<Record<string, string>>): ReadTyped {
  const read: [string, unknown][] = [];
  for (const part of partsOf(item)) {
    const text = (typed[part.name] ?? '').trim();
    if (text === '' && part.required)
      return { ok: false, fault: { part: part.name, key: 'fault.missing', values: {} } };
    if (text === '') continue;
    const one = readPart(part, text);
    if (!one.ok) return one;
    read.push([part.name, one.value]);
  }
  if (item.answer.kind === 'fields') return { ok: true, value: Object.fromEntries(read) };
  return { ok: true, value: read[0]?.[1] };
}

function readPart(part: Part, text: string): ReadTyped {
  const { type, name } = part;
  if (type.kind === 'number') return readNumber(type, name, text);
  if (type.kind === 'confirm' || type.kind === 'yes-no') return { ok: true, value: text === 'yes' };
  if (type.kind !== 'text') return { ok: true, value: text };
  const kept = readPrinted(type.asPrinted, text);
  if (type.pattern !== undefined && !fits(type.pattern.source, kept)) {
    return { ok: false, fault: { part: name, key: 'fault.text', values: { says: type.pattern.says } } };
  }
  return { ok: true, value: kept };
}

const fits = (source: string, text: string): boolean => new RegExp(`^(?:${source})$`, 'u').test(text);

/** A comma is a decimal point: half of Europe types it. */
export function parseNumber(text: string): number | undefined {
  const plain = text.trim().replace(',', '.');
  return /^[+-]?\d+(?:\.\d+)?$/.test(plain) ? Number(plain) : undefined;
}

function readNumber({ min, max, unit }: NumberType, part: string, text: string): ReadTyped {
  const value = parseNumber(text);
  if (value === undefined) return { ok: false, fault: { part, key: 'fault.number', values: {} } };
  if (value < min || value > max) return { ok: false, fault: { part, key: 'fault.range', values: { min, max, unit } } };
  return { ok: true, value: { value, unit } };
}

/** How far one press of + or − goes, by unit. Common practice, no source. */
const STEPS: Readonly<Record<string, number>> = {
  mm: 0.5,
  '°C': 2,
  kPa: 5,
  N·m: 5,
  deg: 1,
  'dB(A)': 0.5,
  min: 1,
  '1': 0.1,
};
const FINE_MM = 0.05;

/** A step of a number field; finer where millimetres are read to a hundredth or better. */
export function stepOf({ unit, decimals }: NumberType): number {
  if (unit === 'mm' && decimals >= 2) return FINE_MM;
  return Math.max(STEPS[unit] ?? 0, 10 ** -decimals);
}

/**
 * The text after one press of + or −: from what is typed, else from what was declared, else from the lowest value that is
 * possible. Stays within what is possible.
 */
export function stepped(type: NumberType, text: string, declared: unknown, direction: 1 | -1): string {
  const from = parseNumber(text) ?? (typeof declared === 'number' ? declared : undefined);
  const next = from === undefined ? type.min : from + direction * stepOf(type);
  const within = Math.min(type.max, Math.max(type.min, next));
  return String(Number(within.toFixed(type.decimals)));
}

type ReadWith = NonNullable<SignOffInput['checks'][number]['readWith']>;
export type PointLimit = NonNullable<Point['limits']>[number];

/** In the place of a name: an instrument that the event does not have. */
export const OTHER = '*';

/** The instruments of the event that read an item. */
export const choicesFor = (instruments: readonly NamedInstrument[] | undefined, item: CatalogueItem) =>
  instrumentsFor(instruments ?? [], item.key);

/** Whether anything is said of an item by what it is read with. */
export function hasInstrument(item: CatalogueItem, instruments: readonly NamedInstrument[] | undefined): boolean {
  const usual = partsOf(item).some(({ type }) => type.kind === 'number' && type.uncertainty !== undefined);
  return usual || choicesFor(instruments, item).length > 0;
}

/** The unit in which the uncertainty of an instrument is typed: that of the first number. */
export function unitToType(item: CatalogueItem): string | undefined {
  return partsOf(item).flatMap(({ type }) => (type.kind === 'number' ? [type.unit] : []))[0];
}

/** What a place was read with, for the server; nothing where it was the usual. */
export function readWithOf(
  item: CatalogueItem,
  { readWith }: PlaceEntry,
): { ok: true; value: ReadWith | undefined } | { ok: false; fault: TypedFault } {
  if (readWith === undefined || readWith.name === '') return { ok: true, value: undefined };
  if (readWith.name !== OTHER) return { ok: true, value: { name: readWith.name } };
  const uncertainty = parseNumber(readWith.uncertainty ?? '');
  const name = (readWith.own ?? '').trim().replace(/\s+/g, ' ');
  const unit = unitToType(item);
  if (uncertainty === undefined || uncertainty <= 0 || name === '' || unit === undefined) {
    return { ok: false, fault: { part: 'readWith', key: 'fault.readWith', values: {} } };
  }
  return { ok: true, value: { name, uncertainty, unit } };
}

/** How sure a number is beside one of its limits. */
export interface Sure {
  limit: PointLimit;
  /** U (k = 2) in the limit's unit */
  uncertainty: number;
  /** probability that the true value is inside; undefined: nothing is typed */
  conformity: number | undefined;
  /** the reading counts from here, where the rule guards it */
  from: number | undefined;
  to: number | undefined;
}

/** What the instrument that is chosen means for each limit of a number; empty where its uncertainty is not known. */
export function sureOf(
  part: { name: string; type: NumberType },
  { limits = [], instruments }: { limits?: readonly PointLimit[] | undefined; instruments: readonly NamedInstrument[] },
  { readWith, typed }: PlaceEntry,
): Sure[] {
  const { type } = part;
  const uncertainty = uncertaintyOf(type, instruments, readWith);
  if (uncertainty === undefined) return [];
  const value = parseNumber(typed?.[part.name] ?? '');
  return limits
    .filter((limit) => (limit.part ?? 'value') === part.name)
    .map((limit) => {
      const { atLeast, atMost, decision } = limit;
      const guard = decision === 'guarded' ? uncertainty : 0;
      return {
        limit,
        uncertainty,
        conformity: value === undefined ? undefined : conformityProbability(value, uncertainty / 2, limit),
        from: guard === 0 || atLeast === undefined ? undefined : atLeast + guard,
        to: guard === 0 || atMost === undefined ? undefined : atMost - guard,
      };
    });
}

function uncertaintyOf(
  { unit, uncertainty }: NumberType,
  instruments: readonly NamedInstrument[],
  readWith: PlaceEntry['readWith'],
): number | undefined {
  if (readWith === undefined || readWith.name === '') return uncertainty?.expanded;
  if (readWith.name === OTHER) {
    const own = parseNumber(readWith.uncertainty ?? '');
    return own === undefined || own <= 0 ? undefined : own;
  }
  const named = instruments.find(({ name }) => name === readWith.name);
  // the unit of an item is one that quantities know
  return named && uncertaintyIn(unit as Parameters<typeof uncertaintyIn>[0], named);
}
