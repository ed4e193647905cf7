import { isDecodedWrongly } from '../../../http/frame/common-schemas.ts';
import { CAR_NUMBER, COLUMNS, RUN_GROUP } from '../import/csv-columns.ts';
import { MAX_COLUMNS, MAX_RECORDS, type RowFault, surplusIn, type Table } from '../import/csv-table.ts';
import { cutText, decode, delimiterOf, encodingOf, type GridRow, isWorkbook, openWorkbook } from './cut.ts';
import { FIRST_NAME, guessTarget, JOINED, LAST_NAME, TARGETS, toRows, wordKey } from './targets.ts';
import type { ListLook, Reading } from './schemas.ts';
import { defineThreadTask } from '../../../platform/threads/thread.ts';
import { sendTable, type SentTable } from '../import/csv-read.task.ts';

/** What is known beside the file. */
export interface Beside {
  /** names of columns that people said before, by `wordKey` */
  columns: ReadonlyMap<string, string | null>;
  /** classes of lists that people said before, by `wordKey`, with the names of run groups */
  groups: ReadonlyMap<string, string>;
  /** names of the run groups of the event */
  eventGroups: readonly string[];
}

type BadFile = { badRow: number; faults: RowFault[] };

type Source = Pick<ListLook, 'kind' | 'encoding' | 'delimiter' | 'sheets' | 'sheet'> & { grid: GridRow[] };
type Placed = ListLook['columns'][number];

/** A file with its columns placed. */
interface ReadList {
  look: ListLook;
  grid: readonly GridRow[];
}

const TOP_ROWS = 12;
const SAMPLES = 3;
const SHORT = 60;
const MOST_GROUPS = 200;

const short = (cell: string): string => (cell.length > SHORT ? `${cell.slice(0, SHORT)}…` : cell).trim();

async function open(bytes: Buffer, reading: Reading): Promise<Source | BadFile> {
  if (isWorkbook(bytes)) return openSheet(bytes, reading);
  const encoding = reading.encoding ?? encodingOf(bytes);
  const text = decode(bytes, encoding);
  const delimiter = reading.delimiter ?? delimiterOf(text);
  const grid = cutText(text, delimiter);
  return Array.isArray(grid) ? { kind: 'text', encoding, delimiter, grid } : grid;
}

async function openSheet(bytes: Buffer, { sheet: wanted }: Reading): Promise<Source | BadFile> {
  const book = await openWorkbook(bytes, MAX_RECORDS + 1);
  if (!('sheets' in book)) return { badRow: 1, faults: [book] };
  const { sheets } = book;
  const named = sheets.find((name) => name === wanted);
  if (wanted !== undefined && named === undefined) {
    const detail = `The workbook has no sheet of this name. It has: ${sheets.join(', ')}.`;
    return { badRow: 1, faults: [{ code: 'unknown-sheet', detail }] };
  }
  const sheet = named ?? sheets.find((name) => book.rowsOf(name).length > 1) ?? sheets[0] ?? '';
  return { kind: 'workbook', sheets, sheet, grid: book.rowsOf(sheet) };
}

/** Reads a file as it was told, and finds what it was not told. */
export async function readList(bytes: Buffer, reading: Reading, beside: Beside): Promise<ReadList | BadFile> {
  const source = await open(bytes, reading);
  if ('badRow' in source) return source;
  const { grid, ...kind } = source;
  const headerRow = reading.headerRow ?? headerRowOf(grid, (name) => guessTarget(name, beside.columns) !== undefined);
  const header = grid.find(({ row }) => row === headerRow);
  if (headerRow === undefined || header === undefined) {
    return {
      badRow: headerRow ?? 1,
      faults: [{ code: 'no-header', detail: 'This row does not hold the names of the columns.' }],
    };
  }
  if (header.cells.length > MAX_COLUMNS) {
    return {
      badRow: headerRow,
      faults: [{ code: 'too-many-columns', detail: `A file may have ${MAX_COLUMNS} columns.` }],
    };
  }
  const body = grid.filter(({ row }) => row > headerRow);
  const surplus = surplusIn(body, grid);
  if (surplus !== undefined) return surplus;
  const columns = placeColumns(header, body, reading, beside);
  const look: ListLook = {
    ...kind,
    headerRow,
    rows: body.length,
    top: grid.slice(0, TOP_ROWS).map(({ row, cells }) => ({ row, cells: cells.map(short) })),
    columns,
    groups: groupsIn(columns, body, reading, beside),
    ours: columns.every(({ because }) => because === 'own'),
    lostLetters: body.filter(({ cells }) => cells.some(isDecodedWrongly)).length,
    targets: [...TARGETS],
  };
  return { look, grid: body };
}

function placeColumns(
  header: GridRow,
  body: readonly GridRow[],
  reading: Reading,
  { columns: remembered }: Beside,
): Placed[] {
  const width = Math.max(header.cells.length, ...body.map(({ cells }) => cells.length));
  const said = new Map(reading.columns?.map(({ at, to }) => [at, to]));
  const taken = new Set([...said.values()].filter((to) => to !== null));
  const places = Array.from({ length: Math.min(width, MAX_COLUMNS) }, (_, index) => {
    const name = (header.cells[index] ?? '').trim();
    const filled = body.flatMap(({ cells }) => ((cells[index] ?? '').trim() === '' ? [] : (cells[index] ?? '')));
    return {
      at: index + 1,
      name: short(name),
      samples: [...new Set(filled.map(short))].slice(0, SAMPLES),
      filled: filled.length,
      full: name,
    };
  }).filter(({ name, filled }) => name !== '' || filled > 0);
  return places.map(({ full, ...column }) => {
    const to = said.get(column.at);
    if (to !== undefined) return { ...column, to, because: 'said' as const };
    const guess = guessTarget(full, remembered);
    // What somebody said of one column is not guessed of a second.
    const isFree = guess !== undefined && (guess.to === null || JOINED.has(guess.to) || !taken.has(guess.to));
    if (isFree) {
      if (guess.to !== null) taken.add(guess.to);
      return { ...column, ...guess };
    }
    return reading.ignoreOthers === true ? { ...column, to: null, because: 'said' as const } : column;
  });
}

/** The run group that a class of the file is: as told, as before, or one of the same name but for case and signs. */
function groupOf(written: string, { groups }: Reading, beside: Beside): string | undefined {
  const said = groups?.find((one) => one.written.trim() === written)?.group;
  if (said !== undefined) return said;
  const key = wordKey(written);
  const same =
    beside.eventGroups.find((name) => name === written) ?? beside.eventGroups.find((name) => wordKey(name) === key);
  const before = beside.groups.get(key);
  return same ?? (before !== undefined && beside.eventGroups.includes(before) ? before : undefined);
}

function groupsIn(
  columns: readonly Placed[],
  body: readonly GridRow[],
  reading: Reading,
  beside: Beside,
): ListLook['groups'] {
  const at = columns.find(({ to }) => to === RUN_GROUP.name)?.at;
  const counts = new Map<string, number>();
  for (const { cells } of body) {
    const written = at === undefined ? '' : (cells[at - 1] ?? '').trim().slice(0, 120);
    counts.set(written, (counts.get(written) ?? 0) + 1);
  }
  return [...counts].slice(0, MOST_GROUPS).map(([written, rows]) => {
    const group = written === '' ? reading.group : groupOf(written, reading, beside);
    return { written, rows, ...(group === undefined ? {} : { group }) };
  });
}

/** The rows of a file as an import takes them; or what keeps the file as a whole from being taken. */
export function tableOf({ look, grid }: ReadList, reading: Reading, beside: Beside): Table {
  const faults = columnFaults(look);
  if (faults.length > 0) return { badRow: look.headerRow, faults };
  const rows = toRows(grid, {
    columns: look.columns.flatMap(({ at, to }) => (to === null || to === undefined ? [] : [{ at, to }])),
    decimalComma: look.kind === 'text' && look.delimiter !== ',',
    emptyCells: reading.emptyCells ?? 'leave',
    groupOf: (written) => (written === '' ? (reading.group ?? '') : (groupOf(written, reading, beside) ?? written)),
  });
  return { rows };
}

function columnFaults({ columns, groups }: ListLook): RowFault[] {
  const targets = columns.flatMap(({ to }) => to ?? []);
  const twice = columns.filter(({ to }, i) => {
    return to !== null && to !== undefined && !JOINED.has(to) && columns.findIndex((one) => one.to === to) < i;
  });
  const hasGroup = targets.includes(RUN_GROUP.name) || groups.every(({ group }) => group !== undefined);
  return [
    ...columns
      .filter(({ to, filled }) => to === undefined && filled > 0)
      .map(({ at, name }) => ({
        column: name === '' ? String(at) : name,
        code: 'unknown-column',
        detail: `Nobody has said yet what column ${at} is. Say where it goes, or that it is left out.`,
      })),
    ...twice.map(({ name, to }) => ({
      column: name,
      code: 'duplicate-column',
      detail: `Another column is ${to} already. Leave one of them out.`,
    })),
    ...(targets.includes(CAR_NUMBER.name) ? [] : [missing(CAR_NUMBER.name, 'Say which column has the car numbers.')]),
    ...(hasGroup
      ? []
      : [missing(RUN_GROUP.name, 'Say which column has the run group, or which group all these cars are in.')]),
  ];
}

const missing = (column: string, detail: string): RowFault => ({ column, code: 'missing-column', detail });

const NAMES = new Set([...COLUMNS.map(({ name }) => name), FIRST_NAME, LAST_NAME]);

/** What is remembered of a file that was taken: where its columns went and which groups its classes were. */
export function wordsOf(look: ListLook): { columns: [string, string | null][]; groups: [string, string][] } {
  return {
    columns: look.columns.flatMap(({ name, to, because }): [string, string | null][] => {
      const key = wordKey(name);
      if (because !== 'said' || key === '' || to === undefined || (to !== null && !NAMES.has(to))) return [];
      return [[key, to]];
    }),
    groups: look.groups.flatMap(({ written, group }): [string, string][] => {
      const key = wordKey(written);
      return key === '' || group === undefined || wordKey(group) === key ? [] : [[key, group]];
    }),
  };
}

/** Lists begin with a title, a date and an address; further down nobody puts a header. */
const LOOKED_AT = 40;

/**
 * The row with the names of the columns: the one in which most cells are names that are known; where none has two of those,
 * the first that is filled as most rows are and has no number in it. Undefined: the file has no rows.
 */
function headerRowOf(rows: readonly GridRow[], isKnown: (name: string) => boolean): number | undefined {
  const top = rows.slice(0, LOOKED_AT);
  let best: { row: number; known: number } | undefined;
  for (const { row, cells } of top) {
    const known = new Set(cells.map((cell) => cell.trim()).filter(isKnown)).size;
    if (known >= 2 && known > (best?.known ?? 0)) best = { row, known };
  }
  if (best !== undefined) return best.row;
  const usual = usualWidth(rows);
  const named = top.find(({ cells }) => {
    const filled = cells.filter((cell) => cell.trim() !== '');
    return filled.length >= usual * 0.8 && !filled.some((cell) => /^\s*[\d.,]+\s*$/.test(cell));
  });
  return (named ?? top[0])?.row;
}

function usualWidth(rows: readonly GridRow[]): number {
  const widths = rows.map(({ cells }) => cells.filter((cell) => cell.trim() !== '').length).toSorted((a, b) => a - b);
  return widths[Math.floor(widths.length / 2)] ?? 0;
}

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
