import { CsvError, parse } from 'csv-parse/sync';
import { CAR_NUMBER, type Column, COLUMNS, READ_ONLY_COLUMNS, readCell, RUN_GROUP } from './csv-columns.ts';

/** What is wrong with a row; `column` is its name in the header, absent when it is the row as a whole. */
export interface RowFault {
  column?: string;
  code: string;
  detail: string;
}

export interface Cell {
  column: Column;
  /** undefined: the cell is empty */
  value: unknown;
}

/** A row of the file. Its number counts as a spreadsheet does: the header is 1, empty rows count too. */
export interface ImportRow {
  row: number;
  carNumber: string;
  runGroup: string;
  /** the cells that the row has, without those that say which entry it is about */
  cells: readonly Cell[];
  faults: readonly RowFault[];
}

export type Table = { rows: ImportRow[] } | { badRow: number; faults: RowFault[] };

/** An event with more cars than this has another problem first; it bounds how long one import can hold its locks. */
export const MAX_ROWS = 2000;
/** Bounds what is read before rows are counted: spreadsheets may add rows of nothing but separators. */
export const MAX_RECORDS = 10_000;
export const MAX_COLUMNS = 500;

interface ParsedRecord {
  record: string[];
  /** counts so far, this one included; a line without anything is no record */
  info: { records: number; empty_lines: number };
}

interface Header {
  names: readonly string[];
  columns: readonly (Column | undefined)[];
  decimalComma: boolean;
}

/**
 * Reads a file of entries (RFC 4180; also with a byte order mark, semicolons, or LF or CR as line ends). What makes the
 * file as a whole unreadable is reported with the row where it shows; faults of single rows are in the rows.
 */
export function readTable(text: string): Table {
  const delimiter = delimiterOf(text);
  const records = readRecords(text, delimiter);
  if (!Array.isArray(records)) return records;
  const [head, ...body] = records;
  if (head !== undefined && head.row > 1) return { badRow: 1, faults: [NO_HEADER] };
  const names = (head?.cells ?? []).map((name) => name.trim());
  const faults = headerFaults(names);
  if (faults.length > 0) return { badRow: 1, faults };
  const header = { names, columns: names.map(columnOf), decimalComma: delimiter === ';' };
  const rows = body
    .filter(({ cells }) => cells.some((cell) => cell.trim() !== ''))
    .map(({ cells, row }) => toRow(header, cells, row));
  return surplusIn(rows, records) ?? { rows };
}

/** More rows than one file may have, with the first that is too many. */
export function surplusIn(
  rows: readonly { row: number }[],
  records: readonly { row: number }[],
): { badRow: number; faults: RowFault[] } | undefined {
  const surplus = rows[MAX_ROWS] ?? (records.length > MAX_RECORDS ? records.at(-1) : undefined);
  if (surplus === undefined) return undefined;
  const detail = `A file may have ${MAX_ROWS} rows, empty ones not counted; cut it in two.`;
  return { badRow: surplus.row, faults: [{ code: 'too-many-rows', detail }] };
}

const NO_HEADER: RowFault = { code: 'no-header', detail: 'The first row must hold the names of the columns.' };

// Names of columns hold neither comma nor semicolon, so the header tells.
function delimiterOf(text: string): ',' | ';' {
  const header = text.split(/[\r\n]/, 1)[0] ?? '';
  return header.includes(';') && !header.includes(',') ? ';' : ',';
}

/** The records of a text with their rows; or what is wrong with its quotes. At most `MAX_RECORDS` and one more. */
export function readRecords(
  text: string,
  delimiter: string,
): { cells: string[]; row: number }[] | { badRow: number; faults: RowFault[] } {
  try {
    // The typings do not know that `info` wraps each record.
    const records = parse(text, {
      bom: true,
      delimiter,
      record_delimiter: ['\r\n', '\n', '\r'],
      relax_column_count: true,
      skip_empty_lines: true,
      info: true,
      to: MAX_RECORDS + 1,
    }) as unknown as ParsedRecord[];
    return records.map(({ record, info }) => ({ cells: record, row: info.records + info.empty_lines }));
  } catch (error) {
    if (!(error instanceof CsvError)) throw error;
    const badRow = Number(error['records'] ?? 0) + Number(error['empty_lines'] ?? 0) + 1;
    const detail = `The quotes of this row cannot be read (${error.code}): a cell that holds a quote, a separator or a line break stands in quotes, and a quote in it is written twice.`;
    return { badRow, faults: [{ code: 'malformed-csv', detail }] };
  }
}

function columnOf(name: string): Column | undefined {
  return COLUMNS.find((column) => column.name === name);
}

function headerFaults(names: readonly string[]): RowFault[] {
  if (names.length > MAX_COLUMNS) {
    return [{ code: 'too-many-columns', detail: `A file may have ${MAX_COLUMNS} columns.` }];
  }
  const readOnly = READ_ONLY_COLUMNS.map((column) => column.name);
  const unknown = names.filter((name) => name !== '' && columnOf(name) === undefined && !readOnly.includes(name));
  const twice = names.filter((name, i) => name !== '' && names.indexOf(name) !== i);
  const missing = [CAR_NUMBER, RUN_GROUP].map((column) => column.name).filter((name) => !names.includes(name));
  return [
    ...unknown.map((column) => ({
      column,
      code: 'unknown-column',
      detail: 'No column has this name. An export shows the names of all columns.',
    })),
    ...twice.map((column) => ({ column, code: 'duplicate-column', detail: 'The column stands in the header twice.' })),
    ...missing.map((column) => ({ column, code: 'missing-column', detail: 'The header must have this column.' })),
  ];
}

function toRow({ names, columns, decimalComma }: Header, texts: readonly string[], row: number): ImportRow {
  const faults: RowFault[] = [];
  const cells: Cell[] = [];
  let stray: number | undefined;
  for (const [i, text] of texts.entries()) {
    const column = columns[i];
    if (column === undefined) {
      stray ??= text.trim() !== '' && (names[i] ?? '') === '' ? i : undefined;
      continue;
    }
    const read = readCell(column, text, { decimalComma });
    if ('code' in read) faults.push({ column: column.name, ...read });
    cells.push({ column, value: 'code' in read ? undefined : read.value });
  }
  if (stray !== undefined) faults.push(strayCell(stray));
  // Both columns hold text.
  const keyOf = (column: Column) => (cells.find((cell) => cell.column === column)?.value ?? '') as string;
  return {
    row,
    carNumber: keyOf(CAR_NUMBER),
    runGroup: keyOf(RUN_GROUP),
    cells: cells.filter(({ column }) => column !== CAR_NUMBER && column !== RUN_GROUP),
    faults,
  };
}

function strayCell(index: number): RowFault {
  return { code: 'cell-without-column', detail: `Cell ${index + 1} of this row has no name in the header.` };
}
