import { canonicalJson } from '../../platform/canonical-json.ts';
import { isVehicleColumn } from './csv-columns.ts';
import type { KnownEntry } from './csv-store.ts';
import type { Cell, ImportRow, RowFault } from './csv-table.ts';

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
    .map(({ carKey, ...row }) => ({ ...row, carCells: cars.get(carKey)?.cells ?? [] }))
    .sort((a, b) => rank(a) - rank(b) || a.row - b.row);
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
