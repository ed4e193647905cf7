import { z } from 'zod';
import { Vehicle } from '../../../domain/vehicle.ts';
import { findUnstorable } from '../../../http/body/json-body.ts';
import { DECODED_WRONGLY, isDecodedWrongly } from '../../../http/frame/common-schemas.ts';

/** How a cell is written: numbers and truth values as such, text guarded against formulas, people as a list. */
type CellKind = 'text' | 'number' | 'boolean' | 'people';

/** A column of the file: `path` is the place of its value in an entry as the API shows it. */
export interface Column {
  name: string;
  kind: CellKind;
  path: readonly string[];
}

type Tree = Record<string, unknown>;
type JsonSchema = { type?: unknown; properties?: Record<string, JsonSchema> };

/** The two columns that say which entry a row is about. */
export const CAR_NUMBER: Column = { name: 'carNumber', kind: 'text', path: ['carNumber'] };
export const RUN_GROUP: Column = { name: 'runGroup', kind: 'text', path: ['runGroup'] };

/** A car that is known from an earlier event; its record then comes with it. */
export const VEHICLE_ID: Column = { name: 'vehicleId', kind: 'text', path: ['vehicleId'] };

const PEOPLE_COLUMNS: readonly Column[] = [
  { name: 'entrantName', kind: 'text', path: ['entrant', 'name'] },
  { name: 'entrantEmail', kind: 'text', path: ['entrant', 'email'] },
  { name: 'entrantPhone', kind: 'text', path: ['entrant', 'phone'] },
  { name: 'entrantLanguage', kind: 'text', path: ['entrant', 'language'] },
  { name: 'entrantPersonId', kind: 'text', path: ['entrant', 'personId'] },
  { name: 'people', kind: 'people', path: ['people'] },
];

/** One column per property of the vehicle record, read from its schema so that a new property cannot be forgotten. */
const VEHICLE_COLUMNS: readonly Column[] = leavesOf(z.toJSONSchema(Vehicle, { io: 'input' }) as JsonSchema, [
  'vehicle',
]);

/** Every column that an import reads, in the order of an export. */
export const COLUMNS: readonly Column[] = [CAR_NUMBER, RUN_GROUP, ...PEOPLE_COLUMNS, VEHICLE_ID, ...VEHICLE_COLUMNS];

/** Columns that an export adds for the reader and an import does not look at. */
export const READ_ONLY_COLUMNS: readonly Column[] = [
  { name: 'status', kind: 'text', path: ['clearance', 'status'] },
  { name: 'reason', kind: 'text', path: ['clearance', 'reason'] },
];

export function isVehicleColumn(column: Column): boolean {
  return column.path[0] === 'vehicle';
}

/** The column in which the value at this path stands, for a path as zod reports it. */
export function findColumn(path: readonly PropertyKey[]): Column | undefined {
  return COLUMNS.find((column) => column.path.every((step, i) => step === path[i]));
}

/** The value that belongs in a column; undefined when the entry does not have it. */
export function valueAt(entry: object, { path }: Column): unknown {
  let value: unknown = entry;
  for (const step of path) value = isTree(value) ? value[step] : undefined;
  return value;
}

/** Sets a value in a tree that is the caller's own; undefined takes it away, with the group that it leaves empty. */
export function setValueAt(tree: Tree, path: readonly string[], value: unknown): void {
  const [step = '', ...rest] = path;
  if (rest.length === 0) {
    if (value === undefined) delete tree[step];
    else tree[step] = value;
    return;
  }
  const child = tree[step];
  if (value === undefined) {
    if (!isTree(child) || valueAt(child, { name: '', kind: 'text', path: rest }) === undefined) return;
    setValueAt(child, rest, undefined);
    if (Object.keys(child).length === 0) delete tree[step];
    return;
  }
  const group = isTree(child) ? child : {};
  tree[step] = group;
  setValueAt(group, rest, value);
}

function isTree(value: unknown): value is Tree {
  return typeof value === 'object' && value !== null;
}

function leavesOf(schema: JsonSchema, path: readonly string[]): Column[] {
  if (schema.properties !== undefined) {
    return Object.entries(schema.properties).flatMap(([key, part]) => leavesOf(part, [...path, key]));
  }
  return [{ name: path.join('.'), kind: kindOf(schema, path), path }];
}

function kindOf({ type }: JsonSchema, path: readonly string[]): CellKind {
  if (type === 'number' || type === 'integer') return 'number';
  if (type === 'boolean') return 'boolean';
  if (type === 'string') return 'text';
  throw new Error(`${path.join('.')} has no form as a cell of a CSV file`);
}

/** A value read from a cell (undefined: the cell is empty), or what is wrong with it. */
export type ReadCell = { value: unknown } | { code: string; detail: string };

interface Person {
  name: string;
  role: string;
  personId?: string | undefined;
}

// What a spreadsheet may take for the start of a formula (OWASP ASVS 5.0, 1.2.10), the full-width forms included.
// Text that starts with apostrophes before one is guarded too, or taking the guard off could not be told from its own.
const GUARD_NEEDED = /^'*[=+\-@\t\r\n＝＋－＠]/;
const GUARDED = /^'+[=+\-@\t\r\n＝＋－＠]/;
const MAX_LENGTH = 10_000;
const NUMBER = /^[+-]?\d+(?:\.\d+)?(?:e[+-]?\d+)?$/i;

// A reader that separates by something else than commas takes our quotes for text, and begins a cell within it.
const INNER_NEEDED = /([;|\t\r\n][ "]*)(?='*[=+\-@＝＋－＠])/g;
const INNER_GUARDED = /([;|\t\r\n][ "]*)'(?='*[=+\-@＝＋－＠])/g;

/**
 * Puts an apostrophe before text that a spreadsheet could run as a formula, also after each sign that it may separate
 * cells by; `unguardText` takes exactly these off.
 */
export function guardText(text: string): string {
  const inner = text.replace(INNER_NEEDED, "$1'");
  return GUARD_NEEDED.test(inner) ? `'${inner}` : inner;
}

export function unguardText(text: string): string {
  return (GUARDED.test(text) ? text.slice(1) : text).replace(INNER_GUARDED, '$1');
}

/** The text of a cell: what `readCell` reads back to the same value. */
export function formatCell(column: Column, entry: object): string {
  const value = valueAt(entry, column);
  if (value === undefined || value === null) return '';
  // The kind of a column follows from the schema that the value has passed.
  if (column.kind === 'people') return guardText(formatPeople(value as Person[]));
  return column.kind === 'text' ? guardText(value as string) : JSON.stringify(value);
}

/** @param options `decimalComma`: 2,5 means 2.5, as in files that are separated by semicolons */
export function readCell(column: Column, cell: string, options: { decimalComma: boolean }): ReadCell {
  const text = unguardText(cell.trim()).trim();
  if (text === '') return { value: undefined };
  if (text.length > MAX_LENGTH) return { code: 'too-long', detail: `A cell may hold ${MAX_LENGTH} characters.` };
  const unstorable = findUnstorable(text);
  if (unstorable !== undefined) return { code: 'not-storable', detail: `The cell ${unstorable.message}.` };
  if (isDecodedWrongly(text)) return { code: 'decoded-wrongly', detail: DECODED_WRONGLY };
  switch (column.kind) {
    case 'text':
      return { value: text };
    case 'number':
      return readNumber(text, options.decimalComma);
    case 'boolean':
      return readBoolean(text);
    case 'people':
      return readPeople(text);
  }
}

function readNumber(text: string, decimalComma: boolean): ReadCell {
  const plain = decimalComma ? text.replace(',', '.') : text;
  const value = Number(plain);
  if (NUMBER.test(plain) && Number.isFinite(value)) return { value };
  return { code: 'not-a-number', detail: 'Must be a plain number in the unit of the column, for example 2.5.' };
}

// Spreadsheets turn the words to capitals.
function readBoolean(text: string): ReadCell {
  const word = text.toLowerCase();
  if (word === 'true' || word === 'false') return { value: word === 'true' };
  return { code: 'not-true-or-false', detail: 'Must be true or false.' };
}

function formatPeople(people: readonly Person[]): string {
  return people
    .map(({ role, name, personId }) => {
      const id = personId === undefined ? '' : `|${personId}`;
      return `${role}:${name.replaceAll(/[\\;|]/g, '\\$&')}${id}`;
    })
    .join('; ');
}

function readPeople(text: string): ReadCell {
  // A part ends at a semicolon that no backslash stands before; a backslash itself is written twice.
  const parts = (text.match(/(?:\\[\\;|]|[^;])+/g) ?? []).map((part) => part.trim()).filter((part) => part !== '');
  const people = parts.map((part) => {
    const colon = part.indexOf(':');
    // The name, and after a bar that no backslash stands before the id.
    const [, name = '', id = ''] = /^((?:\\[\\;|]|[^|])*)\|?(.*)$/s.exec(part.slice(colon + 1)) ?? [];
    return {
      role: part.slice(0, Math.max(colon, 0)).trim(),
      name: name.trim().replaceAll(/\\([\\;|])/g, '$1'),
      ...(id.trim() === '' ? {} : { personId: id.trim() }),
    };
  });
  if (people.every(({ role }) => role !== '')) return { value: people };
  return {
    code: 'not-people',
    detail: 'Write each person as role:name, or role:name|id, and separate them with semicolons.',
  };
}
