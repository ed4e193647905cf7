import { defineThreadTask } from '../../../platform/threads/thread.ts';
import { sendTable, type SentTable } from '../import/csv-read.task.ts';
import { type BadFile, readList, tableOf, wordsOf } from './read-list.ts';
import type { ListLook, Reading } from './schemas.ts';

export interface ListInput {
  /** the file, base64 */
  file: string;
  reading: Reading;
  columns: [string, string | null][];
  groups: [string, string][];
  eventGroups: string[];
  /** what is wanted of it */
  want: 'look' | 'table';
}

export type ListOutput = BadFile | { look: ListLook } | { table: SentTable; words: ReturnType<typeof wordsOf> };

/** Reads a list of another program: what it looks like, or its rows. */
export const readListTask = defineThreadTask<ListInput, ListOutput>({
  name: 'entries.read-list',
  processorMs: 4000,
  clockMs: 20_000,
  async run({ file, reading, columns, groups, eventGroups, want }) {
    const beside = { columns: new Map(columns), groups: new Map(groups), eventGroups };
    const list = await readList(Buffer.from(file, 'base64'), reading, beside);
    if ('badRow' in list) return list;
    if (want === 'look') return { look: list.look };
    return { table: sendTable(tableOf(list, reading, beside)), words: wordsOf(list.look) };
  },
});
