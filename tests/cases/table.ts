import { PROFILE_NAMES } from '../../seed/built-in.ts';
import type { Case, Open } from './case.ts';
import { faultOf, type Outcome } from './outcome.ts';

/** A case with what became of it. */
export interface Row {
  of: Case;
  outcome: Outcome;
}

/** The value below which a share of the values lies: the smallest that at least this share does not exceed. */
export function percentile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.max(0, Math.ceil(share * sorted.length) - 1)] ?? 0;
}

/** Points that the line was asked to look at on honest cars, beyond those looked at on every car. */
export function pointsOfHonest(rows: readonly Row[]): { median: number; percentile95: number } {
  const points = rows.filter(({ of }) => of.expected === 'through').map(({ outcome }) => outcome.points);
  return { median: percentile(points, 0.5), percentile95: percentile(points, 0.95) };
}

/** Seconds at the line of the honest cars of a group. */
export function secondsOfHonest(rows: readonly Row[], group: Case['group']): { median: number; percentile95: number } {
  const seconds = rows
    .filter(({ of }) => of.expected === 'through' && of.group === group)
    .map(({ outcome }) => outcome.seconds);
  return { median: percentile(seconds, 0.5), percentile95: percentile(seconds, 0.95) };
}

/** Ids of the cases that do not come out as they say, with what is wrong. */
export function faultsOf(rows: readonly Row[]): ReadonlyMap<string, string> {
  return new Map(
    rows.flatMap(({ of, outcome }) => {
      const fault = faultOf(of, outcome);
      return fault === undefined ? [] : [[of.id, fault] as const];
    }),
  );
}

const COLUMNS = ['area', 'dangerous', 'stopped', 'honest', 'through', 'points: median', '95 %'] as const;

function lineOf(area: string, rows: readonly Row[]): string[] {
  const faults = faultsOf(rows);
  const of = (expected: Case['expected']) => rows.filter((row) => row.of.expected === expected);
  const right = (some: readonly Row[]) => some.filter((row) => !faults.has(row.of.id)).length;
  const [dangerous, honest] = [of('stopped'), of('through')];
  const { median, percentile95 } = pointsOfHonest(rows);
  return [area, dangerous.length, right(dangerous), honest.length, right(honest), median, percentile95].map(String);
}

/** The cases by area, then each that is wrong with what is wrong and why it matters. */
export function formatTable(rows: readonly Row[], open: Open['cases']): string {
  const areas = [...new Set(rows.map(({ of }) => of.area))];
  const lines = [
    [...COLUMNS],
    ...areas.map((area) =>
      lineOf(
        area,
        rows.filter(({ of }) => of.area === area),
      ),
    ),
    lineOf('all', rows),
  ];
  const widths = COLUMNS.map((_, column) => Math.max(...lines.map((line) => line[column]?.length ?? 0)));
  const table = lines.map((line) =>
    line
      .map((cell, column) => (column === 0 ? cell.padEnd(widths[column] ?? 0) : cell.padStart(widths[column] ?? 0)))
      .join('  '),
  );
  const wrong = [...faultsOf(rows)].map(([id, fault]) => {
    const why = rows.find(({ of }) => of.id === id)?.of.why ?? '';
    const known = open[id] === undefined ? '' : ` (open: ${open[id]})`;
    return `WRONG ${id}: ${fault}${known}\n      ${why}`;
  });
  const times = PROFILE_NAMES.map((group) => {
    const { median, percentile95 } = secondsOfHonest(rows, group);
    return `At the line, honest cars, ${group}: ${median} s at the median, ${percentile95} s at 95 %`;
  });
  return `\n${[...table, '', ...times, '', ...wrong].join('\n')}\n`;
}
