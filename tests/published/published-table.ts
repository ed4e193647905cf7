import type { PublishedCheck } from './published-check.ts';

/** Whether the check holds, and what to print about it. */
export interface CheckedRow {
  name: string;
  published: string;
  ours: string;
  difference: string;
  source: string;
  holds: boolean;
}

const text = (value: number | string, unit: string | undefined): string => {
  const number = typeof value === 'number' ? String(Number(value.toPrecision(10))) : value;
  return unit === undefined ? number : `${number} ${unit}`;
};

/**
 * Runs a check. Numbers agree within the tolerance (exactly where there is none), texts exactly; a wrong published
 * value must not agree. A refusal (a text) instead of a wrong number is what is wanted; NaN passes nothing.
 */
export function runCheck(check: PublishedCheck): CheckedRow {
  const ours = check.ours();
  const { published, unit, wrong = false, tolerance = 0 } = check;
  const numbers = typeof ours === 'number' && typeof published === 'number';
  const difference = numbers ? ours - published : Number.NaN;
  const comparable = !numbers || Number.isFinite(difference);
  const agrees = numbers ? Math.abs(difference) <= tolerance : ours === published;
  return {
    name: check.name,
    published: `${text(published, unit)}${wrong ? ' (wrong)' : ''}`,
    ours: text(ours, unit),
    difference: numbers ? String(Number(difference.toPrecision(2))) : agrees ? 'same' : 'differs',
    source: check.source,
    holds: comparable && agrees !== wrong,
  };
}

const COLUMNS = ['name', 'published', 'ours', 'difference', 'source'] as const;

/** The rows as one plain table, columns as wide as their widest cell, rows that do not hold marked. */
export function formatTable(rows: readonly CheckedRow[]): string {
  const widths = COLUMNS.map((column) => Math.max(column.length, ...rows.map((row) => row[column].length)));
  const line = (cells: readonly string[]): string =>
    cells
      .map((cell, index) => cell.padEnd(widths[index] ?? 0))
      .join('  ')
      .trimEnd();
  const body = rows.map((row) => `${row.holds ? '  ' : 'X '}${line(COLUMNS.map((column) => row[column]))}`);
  const failing = rows.filter((row) => !row.holds).length;
  const tail = `${rows.length} checks, ${failing} of them not as published`;
  return ['', `  ${line(COLUMNS)}`, `  ${line(widths.map((width) => '-'.repeat(width)))}`, ...body, '', tail, ''].join(
    '\n',
  );
}
