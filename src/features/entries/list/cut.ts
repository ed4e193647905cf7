import { parse } from 'csv-parse/sync';
import iconv from 'iconv-lite';
import { isUtf8 } from 'node:buffer';
import { readRecords } from '../import/csv-table.ts';
import type { GridRow } from './workbook.ts';

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
