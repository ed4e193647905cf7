import { findUnstorable } from '../../../http/body/json-object.ts';
import { DECODED_WRONGLY, isDecodedWrongly } from '../../../http/frame/common-schemas.ts';
import { type Column, valueAt } from './csv-columns.ts';

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
