import { ProblemError } from '../../../http/frame/problem.ts';
import { canonicalJson } from '../../../platform/canonical-json.ts';
import { isVehicleColumn } from './csv-columns.ts';
import type { KnownEntry } from './import-store.ts';
import type { Cell, ImportRow, RowFault } from './csv-table.ts';
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

/** What the event has already, as far as it decides how rows belong together. */
type PlacedEntry = Pick<KnownEntry, 'runGroupId' | 'carNumber' | 'vehicleId' | 'withdrawn'>;

/** A row with what the other rows of its file mean for it. */
export interface PlannedRow extends ImportRow {
  runGroupId: string | undefined;
  /** what the file says of this car, here or in the row of another run group; empty: nothing */
  carCells: readonly Cell[];
}

/** The cells about the car; a row whose cells about the car are all empty says nothing about it. */
export function vehicleCellsOf(row: ImportRow): Cell[] {
  const cells = row.cells.filter(({ column }) => isVehicleColumn(column));
  return cells.some(({ value }) => value !== undefined) ? cells : [];
}

/**
 * Puts rows in the order in which they are applied: changes before new entries, so that a car changed in one row is
 * known as changed in the next, and withdrawn entries after those that can change. Names the rows that say something
 * twice, or something else about a car than an earlier row.
 */
export function planRows(
  rows: readonly ImportRow[],
  groups: ReadonlyMap<string, string>,
  known: readonly PlacedEntry[],
): PlannedRow[] {
  const entries = new Map(known.map((entry) => [keyOf(entry.runGroupId, entry.carNumber), entry]));
  const vehicles = new Map(known.map((entry) => [entry.carNumber, entry.vehicleId]));
  const firsts = new Map<string, number>();
  const cars = new Map<string, { row: number; cells: readonly Cell[] }>();
  const noted = rows.map((row) => {
    const carKey = vehicles.get(row.carNumber) ?? `number ${row.carNumber}`;
    const faults = [...duplicateFaults(row, firsts), ...carFaults(row, carKey, cars)];
    return { ...row, faults: [...row.faults, ...faults], runGroupId: groups.get(row.runGroup), carKey };
  });
  const rank = (row: { runGroupId: string | undefined; carNumber: string }) => {
    const entry = entries.get(keyOf(row.runGroupId, row.carNumber));
    if (entry === undefined) return 2;
    return entry.withdrawn ? 1 : 0;
  };
  return noted
    .map(({ carKey, ...row }) => ({ rank: rank(row), row: { ...row, carCells: cars.get(carKey)?.cells ?? [] } }))
    .sort((a, b) => a.rank - b.rank || a.row.row - b.row.row)
    .map(({ row }) => row);
}

function keyOf(...parts: readonly (string | undefined)[]): string {
  return JSON.stringify(parts);
}

function duplicateFaults(row: ImportRow, firsts: Map<string, number>): RowFault[] {
  const key = keyOf(row.runGroup, row.carNumber);
  const first = firsts.get(key);
  if (first === undefined) {
    firsts.set(key, row.row);
    return [];
  }
  const detail = `Row ${first} is about the same car number in the same run group.`;
  return [{ column: 'carNumber', code: 'duplicate-row', detail }];
}

function carFaults(
  row: ImportRow,
  carKey: string,
  cars: Map<string, { row: number; cells: readonly Cell[] }>,
): RowFault[] {
  const cells = vehicleCellsOf(row);
  if (cells.length === 0) return [];
  const first = cars.get(carKey);
  if (first === undefined) {
    cars.set(carKey, { row: row.row, cells });
    return [];
  }
  return cells
    .filter(({ column, value }) => {
      const other = first.cells.find((cell) => cell.column === column);
      return canonicalJson(other?.value) !== canonicalJson(value);
    })
    .map(({ column }) => ({
      column: column.name,
      code: 'shared-car-differs',
      detail: `Row ${first.row} says something else about the same car. Give the same, or leave all cells about the car empty.`,
    }));
}
