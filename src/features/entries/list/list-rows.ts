import { readCell, type ReadCell } from '../import/csv-cells.ts';
import { CAR_NUMBER, type Column, RUN_GROUP } from '../import/csv-columns.ts';
import type { Cell, ImportRow, RowFault } from '../import/csv-table.ts';
import { columnOfTarget } from './targets.ts';
import type { GridRow } from './workbook.ts';

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
