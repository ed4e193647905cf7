import { defineThreadTask } from '../../../platform/threads/thread.ts';
import { COLUMNS } from './csv-columns.ts';
import { type ImportRow, readTable, type Table } from './csv-table.ts';

/** Rows that are written as one text: what one step of reading them back costs is a few milliseconds. */
const ROWS_PER_TEXT = 50;

/** A row as it goes between threads: each cell by the number of its column, null where it is empty. */
export type SentRow = Omit<ImportRow, 'cells'> & { cells: [column: number, value: unknown][] };

/** A table whose rows are texts of JSON, each of many rows: so they can be read back in small steps. */
export type SentTable = { texts: string[] } | Exclude<Table, { rows: unknown }>;

function sendRow({ cells, ...row }: ImportRow): SentRow {
  return { ...row, cells: cells.map(({ column, value }) => [COLUMNS.indexOf(column), value ?? null]) };
}

/** Writes a table for the way to another thread. */
export function sendTable(table: Table): SentTable {
  if (!('rows' in table)) return table;
  const texts: string[] = [];
  for (let from = 0; from < table.rows.length; from += ROWS_PER_TEXT) {
    texts.push(JSON.stringify(table.rows.slice(from, from + ROWS_PER_TEXT).map(sendRow)));
  }
  return { texts };
}

/** Reads a file of entries. */
export const csvReadTask = defineThreadTask<string, SentTable>({
  name: 'entries.read-csv',
  processorMs: 2000,
  clockMs: 20_000,
  run: (text) => sendTable(readTable(text)),
});
