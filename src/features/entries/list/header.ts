import type { GridRow } from './workbook.ts';

/** Lists begin with a title, a date and an address; further down nobody puts a header. */
const LOOKED_AT = 40;

/**
 * The row with the names of the columns: the one in which most cells are names that are known; where none has two of those,
 * the first that is filled as most rows are and has no number in it. Undefined: the file has no rows.
 */
export function headerRowOf(rows: readonly GridRow[], isKnown: (name: string) => boolean): number | undefined {
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
