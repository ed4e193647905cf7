import { isPlainDate } from '../calendar.ts';
import type { PrintedForm, SimpleAnswerType } from '../catalogue/item.ts';
import { convert, dimensionOf, formatQuantity, parseUnit, roundTo } from '../quantity.ts';

const DATE_CODE = /(?:^|[^0-9])([0-9]{2})[ /.-]?([0-9]{2})\)?$/u;
const OLD_DATE_CODE = /(?:^|[^0-9])([0-9]{3})$/u;
/** what may stand behind a service description on a sidewall: reinforced, winter, tubeless */
const RATING =
  /(?:^|[\s/])(\(?[0-9]{2,3}(?:\/[0-9]{2,3})?)[\s-]*([A-Z]{1,2}\)?)((?:[\s/,]+(?:XL|EXTRA LOAD|RF|REINFORCED|M[+&/ ]?S|3PMSF|TL)|XL)*)$/u;
const OIL_GRADE = /(?<![0-9.])([0-9]{1,2})\s*W(?:\s*[-/ ]?\s*([0-9]{1,2}))?(?![0-9A-Z.])/gu;
const OIL_OF_ONE_GRADE = /^(?:SAE\s*([0-9]{1,2})(?![0-9A-Z.]).*|([0-9]{1,2}))$/u;

/** The last four digits of an identification number as it stands on a sidewall: `DOT 4B9K 1X2Y 2324` is `2324`. */
function dateCode(text: string): string {
  const four = DATE_CODE.exec(text);
  if (four !== null) return `${four[1]}${four[2]}`;
  return OLD_DATE_CODE.exec(text)?.[1] ?? text;
}

/** The service description alone: `205/55 R16 91w` is `91W`. */
function rating(text: string): string {
  const found = RATING.exec(text.toUpperCase());
  if (found === null) return text;
  const isExtraLoad = /XL|EXTRA LOAD/u.test(found[3] ?? '');
  return `${found[1]}${found[2]}${isExtraLoad ? ' XL' : ''}`;
}

/**
 * As SAE J300 writes it: `15W50` and `sae 15w-50 fully synthetic` are `15W-50`, `SAE 50` is `50`. Where two grades are
 * named, the text stays: nobody can tell which of them is in the engine.
 */
function oilGrade(text: string): string {
  const upper = text.toUpperCase();
  const [, named, alone = named] = OIL_OF_ONE_GRADE.exec(upper) ?? [];
  if (alone !== undefined) return alone;
  const grades = new Set([...upper.matchAll(OIL_GRADE)].map(([, winter, hot]) => `${winter}W${hot ? `-${hot}` : ''}`));
  const [grade = text] = grades;
  return grades.size === 1 ? grade : text;
}

const READERS: Readonly<Record<PrintedForm, (text: string) => string>> = {
  'tyre-date-code': dateCode,
  'tyre-rating': rating,
  'oil-grade': oilGrade,
};

/**
 * What somebody copied from a label or sidewall, in the one way that is kept and judged. A text that is none of the
 * forms stays as it is, so that whoever typed it is told. Idempotent, never throws. Source: how labels are printed
 * (49 CFR 574.5 for the date code, SAE J300 for oil); the spellings people use are common practice.
 */
export function readPrinted(form: PrintedForm | undefined, text: string): string {
  const trimmed = text.trim();
  return form === undefined ? trimmed : READERS[form](trimmed);
}

/** One answer after reading; numbers are in the canonical unit, rounded to the item's decimals. */
type ReadValue = number | string | boolean | readonly string[];

export type FaultCode =
  | 'unknown-item'
  | 'unknown-position'
  | 'wrong-type'
  | 'impossible-value'
  | 'unit-mismatch'
  | 'unknown-unit'
  | 'unknown-option'
  | 'unknown-field'
  | 'missing-field'
  | 'bad-date'
  | 'bad-text';

/** A fault of one answer; `at` are the steps from the answer down to the faulty part. */
export interface ReadFault {
  at: readonly string[];
  code: FaultCode;
  detail: string;
}

export type ReadResult = { ok: true; value: ReadValue } | { ok: false; faults: readonly ReadFault[] };

type TypeOf<K extends SimpleAnswerType['kind']> = Extract<SimpleAnswerType, { kind: K }>;

const EARLIEST_DATE = '1900-01-01';
const LATEST_DATE = '2100-12-31';
/** control characters and halves of a surrogate pair: no keyboard types them and the database refuses some of them */
const UNWRITABLE = /[\p{Cc}\p{Cs}]/u;

const good = (value: ReadValue): ReadResult => ({ ok: true, value });
const bad = (code: FaultCode, detail: string, at: readonly string[] = []): ReadResult => ({
  ok: false,
  faults: [{ at, code, detail }],
});

/** Whether a value is a JSON object: not null, not an array. */
export function isJsonObject(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

/** A piece of the caller's own input, short enough for a message. */
export function quote(value: unknown): string {
  const json = JSON.stringify(value) ?? typeof value;
  return json.length > 60 ? `${json.slice(0, 57)}…` : json;
}

/**
 * Reads one simple answer against its type. A number may be bare (in the item's unit) or `{value, unit}`.
 *
 * @returns the value, or every fault with the steps to its place; never throws
 */
export function readAnswer(type: SimpleAnswerType, raw: unknown): ReadResult {
  switch (type.kind) {
    case 'number':
      return readNumber(type, raw);
    case 'choice':
      return readChoice(type, raw);
    case 'choices':
      return readChoices(type, raw);
    case 'confirm':
    case 'yes-no':
      return typeof raw === 'boolean' ? good(raw) : bad('wrong-type', 'must be true or false');
    case 'date':
      return readDate(raw);
    case 'text':
      return readText(type, raw);
  }
}

function readNumber(type: TypeOf<'number'>, raw: unknown): ReadResult {
  if (isJsonObject(raw)) return readQuantity(type, raw);
  if (typeof raw === 'number' && Number.isFinite(raw)) return withinBounds(type, raw, []);
  return bad('wrong-type', `must be a finite number in ${type.unit}, or an object with value and unit`);
}

function shapeFaults(parts: ReadonlyMap<string, unknown>): ReadFault[] {
  const extra = [...parts.keys()].filter((name) => name !== 'value' && name !== 'unit');
  const absent = ['value', 'unit'].filter((name) => !parts.has(name));
  return [
    ...extra.map((name): ReadFault => ({ at: [name], code: 'unknown-field', detail: 'has only value and unit' })),
    ...absent.map((name): ReadFault => ({ at: [], code: 'missing-field', detail: `a measurement needs ${name}` })),
  ];
}

function findUnitFault(type: TypeOf<'number'>, raw: unknown): Omit<ReadFault, 'at'> | undefined {
  if (typeof raw !== 'string') return { code: 'wrong-type', detail: 'must be the name of a unit' };
  const unit = parseUnit(raw);
  if (unit === undefined) return { code: 'unknown-unit', detail: `${quote(raw)} is no known unit` };
  if (dimensionOf(unit) === dimensionOf(type.unit)) return undefined;
  return { code: 'unit-mismatch', detail: `${unit} cannot be converted to ${type.unit}` };
}

function readQuantity(type: TypeOf<'number'>, raw: Record<string, unknown>): ReadResult {
  const parts = new Map(Object.entries(raw));
  const faults = shapeFaults(parts);
  const value = parts.get('value');
  if (parts.has('value') && !Number.isFinite(value)) {
    faults.push({ at: ['value'], code: 'wrong-type', detail: 'must be a finite number' });
  }
  const unitFault = parts.has('unit') ? findUnitFault(type, parts.get('unit')) : undefined;
  if (unitFault) faults.push({ at: ['unit'], ...unitFault });
  if (faults.length > 0) return { ok: false, faults };
  return convertWithin(type, Number(value), String(parts.get('unit')));
}

function convertWithin(type: TypeOf<'number'>, value: number, unitText: string): ReadResult {
  const unit = parseUnit(unitText);
  const converted = unit === undefined ? undefined : convert(value, unit, type.unit);
  // unit and dimension are known to fit here, so that only an overflow is left to refuse
  if (converted === undefined || !Number.isFinite(converted)) return bad('impossible-value', 'is too large', ['value']);
  return withinBounds(type, converted, ['value']);
}

function withinBounds(type: TypeOf<'number'>, value: number, at: readonly string[]): ReadResult {
  const exact = Number(value.toPrecision(12));
  if (exact >= type.min && exact <= type.max) return good(roundTo(exact, type.decimals));
  const [low, high] = [formatQuantity(type.min, type.unit), formatQuantity(type.max, type.unit)];
  return bad('impossible-value', `${formatQuantity(exact, type.unit)} is not between ${low} and ${high}`, at);
}

function unknownOption(options: readonly string[], raw: string, at: readonly string[]): ReadFault {
  return { at, code: 'unknown-option', detail: `${quote(raw)} is not one of ${options.join(', ')}` };
}

/** Capitals, spaces and hyphens do not tell options apart: `dot 4` and `DOT4` are `DOT 4`. A point does: DOT 5 and DOT 5.1. */
const folded = (text: string): string => text.toLowerCase().replaceAll(/[\s_-]/gu, '');

/** The option that a text means, as the catalogue writes it; `undefined` where it is none, or could be two. */
function findOption(options: readonly string[], raw: string): string | undefined {
  if (options.includes(raw)) return raw;
  const meant = options.filter((option) => folded(option) === folded(raw));
  return meant.length === 1 ? meant[0] : undefined;
}

function readChoice(type: TypeOf<'choice'>, raw: unknown): ReadResult {
  if (typeof raw !== 'string') return bad('wrong-type', `must be one of ${type.options.join(', ')}`);
  const option = findOption(type.options, raw);
  return option === undefined ? { ok: false, faults: [unknownOption(type.options, raw, [])] } : good(option);
}

function readChoices(type: TypeOf<'choices'>, raw: unknown): ReadResult {
  if (!Array.isArray(raw)) return bad('wrong-type', `must be a list of ${type.options.join(', ')}`);
  const chosen = new Set<string>();
  const faults: ReadFault[] = [];
  for (const [index, option] of raw.entries()) {
    const known = typeof option === 'string' ? findOption(type.options, option) : undefined;
    if (known !== undefined) chosen.add(known);
    else if (typeof option === 'string') faults.push(unknownOption(type.options, option, [`${index}`]));
    else faults.push({ at: [`${index}`], code: 'wrong-type', detail: 'must be a text' });
  }
  if (faults.length > 0) return { ok: false, faults };
  return good(type.options.filter((option) => chosen.has(option)));
}

function readDate(raw: unknown): ReadResult {
  if (typeof raw !== 'string') return bad('wrong-type', 'must be a date of the form YYYY-MM-DD');
  if (!isPlainDate(raw)) return bad('bad-date', `${quote(raw)} is not a date of the form YYYY-MM-DD`);
  if (raw < EARLIEST_DATE || raw > LATEST_DATE) {
    return bad('bad-date', `must be between ${EARLIEST_DATE} and ${LATEST_DATE}`);
  }
  return good(raw);
}

function readText(type: TypeOf<'text'>, raw: unknown): ReadResult {
  if (typeof raw !== 'string') return bad('wrong-type', 'must be a text');
  const written = raw.normalize('NFC').trim();
  const text = readPrinted(type.asPrinted, written);
  if (text === '') return bad('bad-text', 'must not be empty; leave it out or send null when not answered');
  if (text.length > type.maxLength) return bad('bad-text', `must not be longer than ${type.maxLength} characters`);
  if (UNWRITABLE.test(written)) return bad('bad-text', 'must be one line without control characters');
  const { pattern } = type;
  if (pattern && !new RegExp(`^(?:${pattern.source})$`, 'u').test(text))
    return bad('bad-text', `must be ${pattern.says}`);
  return good(text);
}

/** A number is in the item's canonical unit and rounded to its decimals. */
export type AnswerValue = ReadValue;

/** One place an answer is kept at: an item, at a position, in a field of a composite answer. */
export interface Cell {
  key: string;
  position?: string;
  field?: string;
}

/** The cell's name in `Answers`: `key`, `key@position`, `key#field` or `key@position#field`. */
export function cellKey(key: string, position?: string, field?: string): string {
  const at = position === undefined ? key : `${key}@${position}`;
  return field === undefined ? at : `${at}#${field}`;
}
