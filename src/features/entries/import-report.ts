import { ProblemError } from '../../http/problem.ts';
import type { ImportReport, RowReport } from './import-schemas.ts';

/** Faults that mean: this number would be two cars of the event. */
const TWO_CARS: ReadonlySet<string> = new Set(['shared-car-differs', 'other-vehicle']);

export function toReport(reports: readonly RowReport[], dryRun: boolean): ImportReport {
  const rows = reports.toSorted((a, b) => a.row - b.row);
  return { dryRun, ...countRows(rows), numbersOfTwoCars: numbersOfTwoCars(rows), rows };
}

/** How many rows came out how. */
export function countRows(reports: readonly RowReport[]) {
  const count = (outcome: RowReport['outcome']) => reports.filter((report) => report.outcome === outcome).length;
  return {
    created: count('created'),
    updated: count('updated'),
    unchanged: count('unchanged'),
    rejected: count('rejected'),
  };
}

export function numbersOfTwoCars(rows: readonly RowReport[]): ImportReport['numbersOfTwoCars'] {
  const found = new Map<string, number[]>();
  for (const { row, carNumber = '', errors = [] } of rows) {
    if (!errors.some(({ code }) => TWO_CARS.has(code))) continue;
    found.set(carNumber, [...(found.get(carNumber) ?? []), row]);
  }
  return [...found].map(([carNumber, of]) => ({ carNumber, rows: of }));
}

/** What is said of a row that the server could not write. */
export function notWritten(row: number, carNumber: string): RowReport {
  const detail = 'The server could not write this row. Import the file again; rows that are done stay as they are.';
  return { row, carNumber, outcome: 'rejected', errors: [{ code: 'not-written', detail }] };
}

export function notAcceptable(report: ImportReport): ProblemError {
  const bad = report.rows.filter(({ outcome }) => outcome === 'rejected');
  const named = bad.slice(0, 3).map(({ row, errors = [] }) => {
    const columns = errors.map(({ column, detail }) => `${column === undefined ? '' : `${column}: `}${detail}`);
    return `row ${row}: ${columns.join(' ')}`;
  });
  const more = bad.length > named.length ? ` And ${bad.length - named.length} more.` : '';
  const detail = `Nothing was written. In ${named.join('; ')}${more}`;
  return new ProblemError('import-not-acceptable', detail, { ...report });
}
