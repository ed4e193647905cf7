import { setImmediate as nextTurn } from 'node:timers/promises';
import { stringify } from 'csv-stringify/sync';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import { formatCell } from './csv-cells.ts';
import { COLUMNS, READ_ONLY_COLUMNS } from './csv-columns.ts';
import { findFirstDay } from './csv-store.ts';
import { listAllEntries } from './store.ts';

/** Entries that are written before others have their turn. */
const ROWS_PER_TURN = 50;
const BYTE_ORDER_MARK = '\uFEFF';

/**
 * All entries of an event as a file (RFC 4180) that an import reads back without changing anything. The byte order mark
 * tells spreadsheets that it is UTF-8.
 *
 * @throws ProblemError `not-found` (event)
 */
export async function exportEntries(deps: Deps, eventId: string): Promise<{ fileName: string; text: string }> {
  const firstDay = await findFirstDay(deps.db.prisma, eventId);
  if (firstDay === undefined) throw notFound('event');
  const entries = await listAllEntries(deps.db.prisma, eventId, deps.clock.now());
  const columns = [...COLUMNS, ...READ_ONLY_COLUMNS];
  let text = BYTE_ORDER_MARK + write([columns.map((column) => column.name)]);
  for (let from = 0; from < entries.length; from += ROWS_PER_TURN) {
    const part = entries.slice(from, from + ROWS_PER_TURN);
    text += write(part.map(({ view }) => columns.map((column) => formatCell(column, view))));
    await nextTurn();
  }
  return { fileName: `entries-${firstDay}.csv`, text };
}

// Line breaks of any kind and the other separator stand in quotes, whoever reads the file.
const write = (records: string[][]): string =>
  stringify(records, { record_delimiter: '\r\n', quoted_match: /[\r\n;]/ });
