import { stringify } from 'csv-stringify/sync';
import { defineThreadTask } from '../../../platform/threads/thread.ts';
import { guardText } from '../import/csv-columns.ts';
import type { Value } from './store.ts';

export const FORMATS = ['csv', 'xlsx'] as const;
export type Format = (typeof FORMATS)[number];

interface Table {
  format: Format;
  /** of the sheet */
  name: string;
  /** names of the columns first */
  rows: Value[][];
}

const BYTE_ORDER_MARK = '\uFEFF';
const WIDEST = 60;
const WIDTHS_FROM = 200;

const guarded = (rows: readonly Value[][]): Value[][] =>
  rows.map((row) => row.map((value) => (typeof value === 'string' ? guardText(value) : value)));

// Line breaks of any kind and the other separator stand in quotes, whoever reads the file.
const toCsv = (rows: Value[][]): Uint8Array =>
  Buffer.from(
    BYTE_ORDER_MARK +
      stringify(
        rows.map((row) => row.map((value) => value ?? '')),
        {
          record_delimiter: '\r\n',
          quoted_match: /[\r\n;]/,
          cast: { boolean: String },
        },
      ),
  );

/** Text is text in every cell, also a car number: a spreadsheet must not make 7 of 07. */
async function toWorkbook({ name, rows }: Table): Promise<Uint8Array> {
  const { utils, write } = await import('@e965/xlsx');
  const sheet = utils.aoa_to_sheet(rows, { dense: true });
  const head = rows[0] ?? [];
  sheet['!cols'] = head.map((_, at) => {
    const lengths = rows.slice(0, WIDTHS_FROM).map((row) => String(row[at] ?? '').length);
    return { wch: Math.min(WIDEST, Math.max(8, ...lengths) + 1) };
  });
  sheet['!autofilter'] = { ref: sheet['!ref'] ?? 'A1' };
  const book = utils.book_new(sheet, name.slice(0, 31));
  // Given back as a buffer, as the type asks for; the typings leave it open.
  return write(book, { type: 'buffer', bookType: 'xlsx', compression: true }) as Uint8Array;
}

/** Writes a table as a file. Text that a spreadsheet could take for a formula gets an apostrophe, in both formats. */
export const writeTableTask = defineThreadTask<Table, Uint8Array>({
  name: 'entries.write-table',
  processorMs: 4000,
  clockMs: 20_000,
  run(table) {
    const rows = guarded(table.rows);
    return table.format === 'csv' ? toCsv(rows) : toWorkbook({ ...table, rows });
  },
});
