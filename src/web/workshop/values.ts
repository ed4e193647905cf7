import { convert, type Unit } from '../../domain/quantity.ts';
import { asUnit, readQuantity, showNumber, shownUnit, showQuantity } from '../shared/units.ts';
import type { Field } from './forms.ts';

/** What stands in a form: texts as typed, by place; lists and groups hold the same. */
export type Draft = string | boolean | Draft[] | { [key: string]: Draft };
export type Drafts = { [key: string]: Draft };

/** Why a place cannot be read. */
export type Fault = 'needed' | 'not-a-number' | 'not-whole' | 'too-small' | 'too-large';
/** Faults by JSON Pointer into the body. */
export type Faults = Readonly<Record<string, Fault>>;

/** The unit that stands beside a field: the one chosen on this device, where the body may say its unit and it is no difference. */
export function unitOf({ kind, unit, difference, max = 0 }: Field): string | undefined {
  if (unit === '1') return undefined;
  const known = asUnit(unit);
  const isFree = kind === 'measure' && difference !== true && known !== 'K';
  return known !== undefined && isFree ? shownUnit(known, max) : unit;
}

/** Which of the forms of an either a draft has: its first place that has one option only tells. */
export function chosenOf(field: Field, draft: Drafts): Field | undefined {
  const tells = field.fields?.[0]?.fields?.find(({ options }) => options?.length === 1)?.key ?? '';
  return field.fields?.find(({ fields }) =>
    fields?.some(({ key, options }) => key === tells && options?.[0] === draft[tells]),
  );
}

/** The place that tells the forms of an either apart. */
export const tellerOf = (field: Field): { key: string; options: string[] } => {
  const key = field.fields?.[0]?.fields?.find(({ options }) => options?.length === 1)?.key ?? '';
  const options = (field.fields ?? []).flatMap(({ fields }) => fields?.find((one) => one.key === key)?.options ?? []);
  return { key, options };
};

/** An empty draft of a field. */
export function emptyOf(field: Field): Draft {
  if (field.kind === 'group' || field.kind === 'either') return {};
  if (field.kind === 'list') {
    const [item] = field.fields ?? [];
    if (item === undefined || item.kind === 'choice') return [];
    return Array.from({ length: field.optional === true ? 0 : (field.min ?? 0) }, () => emptyOf(item));
  }
  return '';
}

/** Whether nothing at all was typed. */
export function isEmpty(draft: Draft | undefined): boolean {
  if (draft === undefined || draft === '') return true;
  if (typeof draft === 'string' || typeof draft === 'boolean') return false;
  return Object.values(draft).every(isEmpty);
}

/** What a body looks like in the form; places that it does not have are empty. */
export function draftOf(fields: readonly Field[], body: Readonly<Record<string, unknown>>, language: string): Drafts {
  return Object.fromEntries(fields.map((field) => [field.key, shown(field, body[field.key], language)]));
}

function shown(field: Field, value: unknown, language: string): Draft {
  const [item] = field.fields ?? [];
  if (Array.isArray(value)) return item === undefined ? [] : value.map((one) => shown(item, one, language));
  if (isObject(value)) return shownObject(field, value, language);
  if (typeof value === 'number')
    return field.kind === 'measure' ? withUnit(field, value, language) : showNumber(value, language);
  return typeof value === 'string' || typeof value === 'boolean' ? String(value) : emptyOf(field);
}

function shownObject(field: Field, value: Record<string, unknown>, language: string): Draft {
  if (field.kind === 'measure') return `${showNumber(Number(value['value']), language)} ${textOf(value['unit'])}`;
  if (field.kind === 'group') return draftOf(field.fields ?? [], value, language);
  const teller = tellerOf(field).key;
  return draftOf(chosenOf(field, { [teller]: textOf(value[teller]) })?.fields ?? [], value, language);
}

/** What was typed at a single place. */
export const textOf = (draft: unknown): string =>
  typeof draft === 'string' || typeof draft === 'boolean' ? String(draft) : '';

/** A bare number is in the unit of the schema; where another stands beside the field, its own is written out. */
function withUnit(field: Field, value: number, language: string): string {
  const number = showNumber(value, language);
  const shownAs = unitOf(field);
  return shownAs === undefined || shownAs === field.unit ? number : `${number} ${field.unit}`;
}

const isObject = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

/**
 * The body that a form asks for.
 *
 * @returns the body without places that are empty, or each place that cannot be read
 */
export function bodyOf(
  fields: readonly Field[],
  drafts: Drafts,
): { ok: true; body: Record<string, unknown> } | { ok: false; faults: Faults } {
  const faults: Record<string, Fault> = {};
  const body = readGroup(fields, drafts, '', faults);
  return Object.keys(faults).length === 0 ? { ok: true, body } : { ok: false, faults };
}

type Found = Record<string, Fault>;

function readGroup(fields: readonly Field[], drafts: Drafts, at: string, faults: Found): Record<string, unknown> {
  const body: Record<string, unknown> = {};
  for (const field of fields) {
    const draft = drafts[field.key];
    const place = `${at}/${field.key}`;
    if (isEmpty(draft)) {
      if (field.optional === true) continue;
      if (field.kind !== 'group') {
        faults[place] = 'needed';
        continue;
      }
    }
    body[field.key] = readOne(field, draft ?? emptyOf(field), place, faults);
  }
  return body;
}

function readOne(field: Field, draft: Draft, place: string, faults: Found): unknown {
  const [item] = field.fields ?? [];
  if (Array.isArray(draft)) {
    return item === undefined ? [] : draft.map((one, index) => readItem(item, one, `${place}/${index}`, faults));
  }
  switch (field.kind) {
    case 'group':
      return readGroup(field.fields ?? [], draft as Drafts, place, faults);
    case 'either':
      return readEither(field, draft as Drafts, place, faults);
    case 'flag':
      return textOf(draft) === 'true';
    case 'measure':
    case 'number':
      return readNumber(field, textOf(draft), place, faults);
    default:
      return textOf(draft).trim();
  }
}

function readEither(field: Field, draft: Drafts, place: string, faults: Found): unknown {
  const chosen = chosenOf(field, draft);
  if (chosen === undefined) faults[`${place}/${tellerOf(field).key}`] = 'needed';
  return readGroup(chosen?.fields ?? [], draft, place, faults);
}

/** A row of a list that was left empty is a fault: it would shift the others. */
function readItem(item: Field, draft: Draft, place: string, faults: Found): unknown {
  if (item.kind !== 'group' && item.kind !== 'either' && isEmpty(draft)) faults[place] = 'needed';
  return readOne(item, draft, place, faults);
}

function readNumber(field: Field, text: string, place: string, faults: Found): unknown {
  const unit = asUnit(unitOf(field));
  // A bare number stands for itself; a fraction is read as one.
  const read = unit === undefined ? readPlain(text) : readQuantity(text, unit);
  if (read === undefined) {
    faults[place] = text.trim() === '' ? 'needed' : 'not-a-number';
    return undefined;
  }
  if (field.kind === 'measure' && read.unit !== undefined) {
    return read.unit === field.unit ? read.value : { value: read.value, unit: read.unit };
  }
  const value = inOwnUnit(field, read);
  const fault = rangeFault(field, value);
  if (fault !== undefined) faults[place] = fault;
  return value;
}

/** A number that has one unit only is sent in it, in whichever it was typed. */
function inOwnUnit(field: Field, { value, unit }: { value: number; unit?: Unit | undefined }): number {
  const own = asUnit(field.unit);
  return unit === undefined || own === undefined ? value : (convert(value, unit, own) ?? Number.NaN);
}

function rangeFault({ whole, min, max }: Field, value: number): Fault | undefined {
  if (whole === true && !Number.isInteger(value)) return 'not-whole';
  if (min !== undefined && value < min) return 'too-small';
  return max !== undefined && value > max ? 'too-large' : undefined;
}

/** A plain number, as a share is: `0,53`, `1/2`. */
function readPlain(text: string): { value: number; unit?: undefined } | undefined {
  const read = readQuantity(text, '1');
  return read?.unit === '1' ? { value: read.value } : undefined;
}

/** The bounds of a field with their unit; none where it has none. */
export function boundsOf({ unit, min, max }: Field, language: string): { low?: string; high?: string } {
  const known = asUnit(unit);
  const text = (value: number): string =>
    known === undefined || known === '1' ? showNumber(value, language) : showQuantity(value, known, language);
  return { ...(min !== undefined && { low: text(min) }), ...(max !== undefined && { high: text(max) }) };
}
