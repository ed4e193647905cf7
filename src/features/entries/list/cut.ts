import { isUtf8 } from 'node:buffer';
import { parse } from 'csv-parse/sync';
import iconv from 'iconv-lite';
import type { CellObject, WorkBook } from '@e965/xlsx';
import { readRecords } from '../import/csv-table.ts';

/** A row as it stands in a file, with its number as a spreadsheet counts. */
export interface GridRow {
  row: number;
  cells: string[];
}

/** What a workbook may be once it is unpacked; a list of 2,000 cars needs a few. */
const MOST_UNPACKED_BYTES = 64 * 1024 * 1024;
const MOST_SHEETS = 50;

const END_OF_DIRECTORY = 0x06054b50;
const ENTRY = 0x02014b50;
const END_LENGTH = 22;
const ENTRY_LENGTH = 46;

/** Whether the bytes are a ZIP archive, as workbooks are (local file header, PKWARE APPNOTE 6.3.10, section 4.3.7). */
export const isWorkbook = (bytes: Buffer): boolean => bytes.length > END_LENGTH && bytes.readUInt32LE(0) === 0x04034b50;

/**
 * How large an archive says it is once unpacked, by its central directory (APPNOTE, sections 4.3.12 and 4.3.16); undefined
 * where there is none that can be read.
 */
function unpackedBytes(bytes: Buffer): number | undefined {
  const end = bytes.lastIndexOf(Buffer.from([0x50, 0x4b, 0x05, 0x06]));
  if (end === -1 || end + END_LENGTH > bytes.length || bytes.readUInt32LE(end) !== END_OF_DIRECTORY) return undefined;
  const count = bytes.readUInt16LE(end + 10);
  let at = bytes.readUInt32LE(end + 16);
  let sum = 0;
  for (let i = 0; i < count; i += 1) {
    if (at + ENTRY_LENGTH > bytes.length || bytes.readUInt32LE(at) !== ENTRY) return undefined;
    sum += bytes.readUInt32LE(at + 24);
    at += ENTRY_LENGTH + bytes.readUInt16LE(at + 28) + bytes.readUInt16LE(at + 30) + bytes.readUInt16LE(at + 32);
  }
  return sum;
}

/** What keeps a workbook from being read. */
export interface WorkbookFault {
  code: string;
  detail: string;
}

const UNREADABLE: WorkbookFault = {
  code: 'malformed-workbook',
  detail: 'This is no workbook that can be read. Save it as .xlsx without a password, or as CSV.',
};

export interface Workbook {
  sheets: string[];
  rowsOf(sheet: string): GridRow[];
}

/** Opens a workbook (.xlsx). Formulas are not computed: their last results are read. */
export async function openWorkbook(bytes: Buffer, mostRows: number): Promise<Workbook | WorkbookFault> {
  const size = unpackedBytes(bytes);
  if (size === undefined) return UNREADABLE;
  if (size > MOST_UNPACKED_BYTES) {
    return {
      code: 'workbook-too-large',
      detail: 'The workbook is too large once unpacked. Save the one sheet as CSV.',
    };
  }
  // Only threads that read a workbook load it.
  const { read, SSF } = await import('@e965/xlsx');
  let book: WorkBook;
  try {
    book = read(bytes, { type: 'buffer', dense: true, cellNF: true, cellHTML: false, sheetRows: mostRows });
  } catch {
    // Whatever it stumbled over, the person can only do one thing about it.
    return UNREADABLE;
  }
  const sheets = book.SheetNames.slice(0, MOST_SHEETS);
  if (sheets.length === 0) return UNREADABLE;
  return {
    sheets,
    rowsOf(sheet) {
      const data: readonly ((CellObject | undefined)[] | undefined)[] = book.Sheets[sheet]?.['!data'] ?? [];
      return Array.from(data, (cells, at) => ({
        row: at + 1,
        cells: Array.from(cells ?? [], (cell) => (cell === undefined ? '' : textOf(cell, SSF.is_date))),
      })).filter(({ cells }) => cells.some((cell) => cell.trim() !== ''));
    },
  };
}

/** Formats that only round or group a number; every other says how the number is to be read, as 007 under `000`. */
const PLAIN = /^(?:General|0|#|[#,]*0?\.?[0#]+|0\.0+E\+00)$/;

function textOf(cell: CellObject, isDate: (format: string) => boolean): string {
  const { t: type, v: value, w: shown } = cell;
  if (value === undefined || type === 'e' || type === 'z') return '';
  if (type === 'b') return value === true ? 'true' : 'false';
  if (type !== 'n') return String(value);
  const format = typeof cell.z === 'string' ? cell.z : 'General';
  const asShown = isDate(format) || /^0{2,}$/.test(format) || !PLAIN.test(format);
  return asShown ? (shown ?? String(value)).trim() : String(value);
}

export const DELIMITERS = [',', ';', '\t', '|'] as const;
type Delimiter = (typeof DELIMITERS)[number];

const LOOKED_AT = 64 * 1024;
const ROWS_LOOKED_AT = 40;
/** Spreadsheets write it into the first line of a file, and read it from there. */
const SAID = /^sep=(.)\r?\n?/i;

/**
 * By which sign the cells of a text are separated: as the file says, else the one by which most rows have the same number of
 * cells, more than one.
 */
export function delimiterOf(text: string): Delimiter {
  const said = SAID.exec(text)?.[1];
  const named = DELIMITERS.find((one) => one === said);
  if (named !== undefined) return named;
  const part = text.slice(0, LOOKED_AT);
  const scored = DELIMITERS.map((delimiter) => ({ delimiter, score: scoreOf(part, delimiter) }));
  const best = scored.reduce((one, other) => (other.score > one.score ? other : one));
  return best.delimiter;
}

function scoreOf(part: string, delimiter: string): number {
  let widths: number[];
  try {
    // The part may end within quotes, so it is read as far as it can be.
    const records = parse(part, {
      delimiter,
      bom: true,
      relax_column_count: true,
      relax_quotes: true,
      skip_empty_lines: true,
      skip_records_with_error: true,
      to: ROWS_LOOKED_AT,
    });
    widths = records.map(({ length }) => length);
  } catch {
    // By this sign the text is no table.
    return 0;
  }
  const counts = new Map<number, number>();
  for (const width of widths) if (width > 1) counts.set(width, (counts.get(width) ?? 0) + 1);
  const [width, rows] = [...counts].reduce((one, other) => (other[1] > one[1] ? other : one), [0, 0]);
  return rows * Math.log2(1 + width);
}

/** The rows of a text, those without anything left out; or what is wrong with its quotes, and where. */
export function cutText(text: string, delimiter: Delimiter): GridRow[] | ReturnType<typeof readRecords> {
  const said = SAID.exec(text)?.[0] ?? '';
  const records = readRecords(text.slice(said.length), delimiter);
  const before = said === '' ? 0 : 1;
  if (!Array.isArray(records)) return { ...records, badRow: records.badRow + before };
  return records
    .filter(({ cells }) => cells.some((cell) => cell.trim() !== ''))
    .map(({ cells, row }) => ({ row: row + before, cells }));
}

/** Encodings that lists come in. */
export const ENCODINGS = ['utf-8', 'utf-16le', 'utf-16be', 'windows-1252'] as const;
type Encoding = (typeof ENCODINGS)[number];
/** Share of zero bytes on one side from which text is taken for UTF-16: in Latin script nearly every second byte is zero. */
const MOSTLY = 0.4;

const MARKS: readonly (readonly [Encoding, readonly number[]])[] = [
  ['utf-8', [0xef, 0xbb, 0xbf]],
  ['utf-16le', [0xff, 0xfe]],
  ['utf-16be', [0xfe, 0xff]],
];

/**
 * What a file of text is written in: by its byte order mark (Unicode 16.0, section 23.8), else UTF-16 by its zero bytes, else
 * UTF-8 where all of it is, else what spreadsheets of Western Europe write without saying so.
 */
export function encodingOf(bytes: Buffer): Encoding {
  const marked = MARKS.find(([, mark]) => mark.every((byte, at) => bytes[at] === byte));
  if (marked !== undefined) return marked[0];
  const part = bytes.subarray(0, LOOKED_AT);
  const zeros = [0, 0];
  for (const [at, byte] of part.entries()) if (byte === 0) zeros[at % 2] = (zeros[at % 2] ?? 0) + 1;
  const [even = 0, odd = 0] = zeros;
  const pairs = Math.max(1, part.length / 2);
  if (odd / pairs > MOSTLY && odd > even) return 'utf-16le';
  if (even / pairs > MOSTLY && even > odd) return 'utf-16be';
  return isUtf8(bytes) ? 'utf-8' : 'windows-1252';
}

// The decoder of Node 20 reads windows-1252 as ISO 8859-1: the euro sign and quotation marks would be lost.
export const decode = (bytes: Buffer, encoding: Encoding): string => iconv.decode(bytes, encoding);
