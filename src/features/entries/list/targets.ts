import {
  CAR_NUMBER,
  type Column,
  COLUMNS,
  READ_ONLY_COLUMNS,
  readCell,
  type ReadCell,
  RUN_GROUP,
} from '../import/csv-columns.ts';
import type { Cell, ImportRow, RowFault } from '../import/csv-table.ts';
import type { GridRow } from './cut.ts';

/** Parts of a name that lists keep in columns of their own; put together they are the entrant's name. */
export const FIRST_NAME = 'entrantFirstName';
export const LAST_NAME = 'entrantLastName';

/** What a column of a list may be: every column of our own files, and the two parts of a name. */
export const TARGETS: readonly string[] = [...COLUMNS.map(({ name }) => name), FIRST_NAME, LAST_NAME];

/** Several columns of a list may be put together into these, in the order of the file. */
export const JOINED: ReadonlySet<string> = new Set(['entrantName', 'vehicle.description', 'vehicle.colour']);

const isTarget = (name: string): boolean => TARGETS.includes(name);

const NAME_PARTS: Readonly<Record<string, number>> = { [FIRST_NAME]: 0, entrantName: 1, [LAST_NAME]: 2 };

/** The column of an entry that a column of a list goes into, and where in it: the first name stands before the last. */
function columnOfTarget(target: string): { column: Column; order: number } | undefined {
  const order = NAME_PARTS[target];
  const name = order === undefined ? target : 'entrantName';
  const column = COLUMNS.find((one) => one.name === name);
  return column === undefined ? undefined : { column, order: order ?? 0 };
}

/** A name of a column as it is compared: letters and digits only, umlauts as people write them without. */
export function wordKey(written: string): string {
  return written
    .toLowerCase()
    .replaceAll('ä', 'ae')
    .replaceAll('ö', 'oe')
    .replaceAll('ü', 'ue')
    .replaceAll('ß', 'ss')
    .normalize('NFKD')
    .replaceAll(/\p{M}/gu, '')
    .replaceAll('#', ' number ')
    .replaceAll(/[^\p{L}\p{N}]+/gu, ' ')
    .trim()
    .slice(0, 120);
}

// How lists of registrations name their columns, in English and German (common practice, no source).
const NAMES: Readonly<Record<string, string>> = {
  carNumber:
    'number|car number|car no|car nr|start number|start no|startnummer|startnr|start nr|stnr|st nr|nr|no|nummer|race number|racing number|competition number|fahrzeugnummer|bib',
  runGroup:
    'group|run group|class|category|klasse|gruppe|fahrergruppe|laufgruppe|leistungsgruppe|kategorie|level|session',
  entrantName:
    'name|full name|entrant|driver|driver name|name of driver|entrant name|participant|teilnehmer|fahrer|fahrername|name fahrer|fahrer name|bewerber|vor und nachname|vorname nachname|name vorname|customer name',
  [FIRST_NAME]: 'first name|firstname|given name|forename|vorname|fahrer vorname|vorname fahrer|driver first name',
  [LAST_NAME]:
    'last name|lastname|surname|family name|nachname|familienname|zuname|fahrer nachname|nachname fahrer|driver last name',
  entrantEmail: 'email|e mail|mail|email address|e mail address|e mail adresse|email adresse|mailadresse|entrant email',
  entrantPhone:
    'phone|telephone|mobile|mobile phone|cell|cell phone|phone number|telefon|telefonnummer|tel|handy|handynummer|mobil|mobilnummer|rufnummer|mobiltelefon',
  entrantLanguage: 'language|sprache',
  entrantPersonId:
    'member|member no|member number|membership number|member id|customer id|mitgliedsnummer|mitglieds nr|mitglied nr|kundennummer|kunden nr|licence|license|licence number|lizenz|lizenznummer|lizenz nr',
  'vehicle.description':
    'car|vehicle|auto|fahrzeug|make|model|make model|car make|car model|vehicle make|vehicle model|car make and model|year make model|marke|modell|typ|fahrzeugtyp|fahrzeugmarke|fahrzeugmodell|marke modell|marke typ|hersteller|manufacturer|wagen|baujahr|bj|model year|car year|vehicle year|year',
  'vehicle.colour': 'colour|color|car colour|car color|vehicle color|vehicle colour|farbe|fahrzeugfarbe|wagenfarbe',
  'vehicle.massKg': 'weight kg|mass kg|gewicht kg|masse kg',
};

const BY_NAME = new Map(
  Object.entries(NAMES).flatMap(([target, names]) => names.split('|').map((name) => [name, target] as const)),
);

/** What a list says of a person that an inspection of his car needs nothing of. */
const PERSONAL =
  /\b(?:birth|born|dob|age|geburt\w*|geb|alter|jahrgang|address|street|zip|postcode|postal code|city|town|anschrift|adresse|strasse|plz|ort|wohnort|iban|bic|account|konto\w*|blood|blutgruppe|emergency\w*|notfall\w*|allerg\w*|insurance|versicherung\w*|passport|ausweis\w*|sex|gender|geschlecht|salutation|anrede)\b/;

// What an export adds for the reader is left out by an import.
const OWN = new Map<string, string | null>([
  ...COLUMNS.map(({ name }) => [name, name] as const),
  ...READ_ONLY_COLUMNS.map(({ name }) => [name, null] as const),
]);

/** Why a column goes where it goes. */
type Because = 'own' | 'guessed' | 'remembered' | 'personal' | 'said';

/**
 * Where a column most likely belongs by its name; `null` as target: nowhere, since it is about a person and not needed.
 *
 * @param remembered what people said of names before, by `wordKey`; null: left out
 */
export function guessTarget(
  written: string,
  remembered: ReadonlyMap<string, string | null>,
): { to: string | null; because: Because } | undefined {
  const own = OWN.get(written.trim());
  if (own !== undefined) return { to: own, because: 'own' };
  const key = wordKey(written);
  if (key === '') return undefined;
  const known = remembered.get(key);
  if (known !== undefined && (known === null || isTarget(known))) return { to: known, because: 'remembered' };
  const guessed = BY_NAME.get(key);
  if (guessed !== undefined) return { to: guessed, because: 'guessed' };
  return PERSONAL.test(key) ? { to: null, because: 'personal' } : undefined;
}

interface How {
  /** places of columns, from 1, with their targets */
  columns: readonly { at: number; to: string }[];
  decimalComma: boolean;
  emptyCells: 'leave' | 'clear';
  /** the name of a run group for what the file writes */
  groupOf(written: string): string;
}

interface Part {
  column: Column;
  /** indices of the cells that make it up, in the order in which they are put together */
  from: number[];
}

/** Rows of a list as an import takes them. */
export function toRows(grid: readonly GridRow[], how: How): ImportRow[] {
  const parts = partsOf(how.columns);
  return grid.map((row) => toRow(row, parts, how));
}

function partsOf(columns: How['columns']): Part[] {
  const placed = columns
    .flatMap(({ at, to }) => {
      const target = columnOfTarget(to);
      return target === undefined ? [] : [{ ...target, at }];
    })
    .toSorted((a, b) => a.order - b.order || a.at - b.at);
  const parts = new Map<Column, number[]>();
  for (const { column, at } of placed) parts.set(column, [...(parts.get(column) ?? []), at - 1]);
  return [...parts].map(([column, from]) => ({ column, from }));
}

function toRow({ row, cells: texts }: GridRow, parts: readonly Part[], how: How): ImportRow {
  const faults: RowFault[] = [];
  const cells: Cell[] = [];
  const keys = { carNumber: '', runGroup: how.groupOf('') };
  for (const { column, from } of parts) {
    const text = from
      .map((at) => (texts[at] ?? '').trim())
      .filter((part) => part !== '')
      .join(' ');
    const read = readListCell(column, text, how.decimalComma);
    if ('code' in read) faults.push({ column: column.name, ...read });
    const value = 'code' in read ? undefined : read.value;
    // Both columns hold text.
    if (column === CAR_NUMBER) keys.carNumber = (value ?? '') as string;
    else if (column === RUN_GROUP) keys.runGroup = how.groupOf((value ?? '') as string);
    else if (value !== undefined || how.emptyCells === 'clear') cells.push({ column, value });
  }
  return { row, ...keys, cells, faults };
}

const YES = new Set(['yes', 'ja', 'wahr', 'x', '1']);
const NO = new Set(['no', 'nein', 'falsch', '0']);
/** 1.210 is a thousand and something in one country and a little over one in another. */
const TWO_WAYS = /^[+-]?\d{1,3}[.,]\d{3}$/;

/** A cell as people write it: `#42`, `ja`, line breaks within. What can be read in two ways is not guessed. */
function readListCell(column: Column, text: string, decimalComma: boolean): ReadCell {
  if (column === CAR_NUMBER)
    return readCell(column, text.replace(/^(?:#|(?:nr|no)\.?(?=[\s\d]))\s*/i, ''), { decimalComma });
  if (column.kind === 'boolean') {
    const word = text.toLowerCase();
    const known = YES.has(word) ? 'true' : NO.has(word) ? 'false' : text;
    return readCell(column, known, { decimalComma });
  }
  if (column.kind === 'number') {
    if (TWO_WAYS.test(text)) {
      const detail = `${text} can be read in two ways. Write the number without a separator of thousands, or with two decimals.`;
      return { code: 'two-numbers', detail };
    }
    return readCell(column, text, { decimalComma: decimalComma || /^[+-]?\d+,\d+$/.test(text) });
  }
  return readCell(column, column.kind === 'text' ? text.replaceAll(/\s+/g, ' ') : text, { decimalComma });
}
