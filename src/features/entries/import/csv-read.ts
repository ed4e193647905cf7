import { setImmediate } from 'node:timers/promises';
import type { Actor } from '../../../domain/actor.ts';
import type { Deps } from '../../../deps.ts';
import { inThread, URGENCY } from '../../../http/body/in-thread.ts';
import { COLUMNS } from './csv-columns.ts';
import { csvReadTask, type SentRow, type SentTable } from './csv-read.task.ts';
import type { Cell, ImportRow, Table } from './csv-table.ts';

function receiveRow({ cells, ...row }: SentRow): ImportRow {
  const received = cells.flatMap(([at, value]): Cell[] => {
    const column = COLUMNS[at];
    return column === undefined ? [] : [{ column, value: value ?? undefined }];
  });
  return { ...row, cells: received };
}

/** Takes a table over from a thread, in small steps. */
export async function receiveTable(table: SentTable): Promise<Table> {
  if (!('texts' in table)) return table;
  const rows: ImportRow[] = [];
  for (const text of table.texts) {
    // Written by the task, from rows of its own.
    for (const row of JSON.parse(text) as SentRow[]) rows.push(receiveRow(row));
    await setImmediate();
  }
  return { rows };
}

/**
 * Reads a file of entries in a thread; see `readTable`. Its rows are taken over in small steps.
 *
 * @throws ProblemError `too-heavy`, `too-much-at-once`, `threads-busy`
 */
export async function readTableInThread(
  { threads }: Pick<Deps, 'threads'>,
  { tokenId }: Pick<Actor, 'tokenId'>,
  text: string,
): Promise<Table> {
  return receiveTable(await inThread(threads, csvReadTask, text, { caller: tokenId, urgency: URGENCY.check }));
}
