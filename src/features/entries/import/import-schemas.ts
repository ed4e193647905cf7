import { z } from 'zod';
import { Id, InstantOut } from '../../../http/frame/common-schemas.ts';
import { TASK_STATES } from '../../../records/tasks.ts';
import { ProblemError } from '../../../http/frame/problem.ts';
import { canonicalJson } from '../../../platform/canonical-json.ts';
import { NumberWarning } from '../schemas.ts';
import { isVehicleColumn } from './csv-columns.ts';
import type { KnownEntry } from './import-store.ts';
import type { Cell, ImportRow, RowFault } from './csv-table.ts';

const Flag = z.enum(['true', 'false']).default('false');

export const ImportQuery = z.strictObject({
  partial: Flag.describe('`true`: write the good rows and report the bad ones; otherwise one bad row refuses the file'),
  dryRun: Flag.describe('`true`: report what would happen, write nothing'),
});

export const RowReport = z
  .object({
    row: z.int().describe('Number of the row as a spreadsheet counts: the header is 1'),
    carNumber: z.string().optional().describe('Exact text; absent when the cell is empty'),
    outcome: z
      .enum(['created', 'updated', 'unchanged', 'rejected'])
      .describe('What became of the row; what would have, where nothing was written'),
    entryId: Id.optional().describe('The entry; absent where there is none'),
    warnings: z
      .array(NumberWarning)
      .optional()
      .describe('Cars of the event, or of the file, whose numbers can be taken for a new one'),
    changed: z.array(z.string()).optional().describe('Columns that an updated entry had otherwise'),
    errors: z
      .array(
        z.object({
          column: z.string().optional().describe('Name of the column; absent: the row as a whole'),
          code: z.string().describe('Kind of fault, for programs'),
          detail: z.string().describe('What is wrong'),
        }),
      )
      .optional()
      .describe('Every fault of a rejected row'),
  })
  .meta({ id: 'ImportRow' });
export type RowReport = z.infer<typeof RowReport>;

const outcome = {
  created: z.int().describe('Number of new entries'),
  updated: z.int().describe('Number of changed entries'),
  unchanged: z.int().describe('Number of rows that say what is known already'),
  rejected: z.int().describe('Number of bad rows'),
  numbersOfTwoCars: z
    .array(
      z.object({ carNumber: z.string().describe('Exact text'), rows: z.array(z.int()).describe('Rows that say so') }),
    )
    .describe('Numbers that would be two cars of the event; each row among the rejected ones says how'),
};

export const ImportReport = z
  .object({
    dryRun: z.boolean().describe('`true`: nothing was written'),
    ...outcome,
    rows: z.array(RowReport).describe('What became of each row, in the order of the file; empty rows are left out'),
  })
  .meta({ id: 'ImportReport' });
export type ImportReport = z.infer<typeof ImportReport>;

/** The job that writes an import. */
export const IMPORT_JOB = 'entries.import';

const summary = {
  importId: Id,
  eventId: Id,
  state: z.enum(TASK_STATES).describe('`failed`: what was written before stays; import the file again to finish it'),
  done: z.int().describe('Rows that are decided'),
  total: z.int().nullable().describe('Rows of the file, empty ones not counted; null until the work begins'),
  error: z.string().optional().describe('Why it failed'),
  requestedBy: z.string().describe('Who asked for it'),
  requestedAt: InstantOut,
  finishedAt: InstantOut.optional(),
};

export const ImportSummary = z.object(summary).meta({ id: 'ImportSummary' });
export type ImportSummary = z.infer<typeof ImportSummary>;

export const ImportList = z.object({ imports: z.array(ImportSummary).describe('Newest first, at most 20') });

export const ImportView = z
  .object({
    ...summary,
    ...outcome,
    rows: z.array(RowReport).describe('What became of each row that is decided, in the order of the file'),
  })
  .meta({ id: 'Import' });
export type ImportView = z.infer<typeof ImportView>;

export const importParams = z.strictObject({ importId: Id });

export const IMPORT_EXAMPLE = [
  'carNumber,runGroup,entrantName,entrantEmail,people,vehicle.description,vehicle.massKg,vehicle.caliper.front',
  '42,Novice,Ines Haldorsen,ines@example.org,driver:Ines Haldorsen; crew:Tor Brekke,"Club coupé 2.0, 2014",1210,fixed',
  '42,Advanced,Ines Haldorsen,ines@example.org,driver:Tor Brekke,,,',
  '07,Novice,Maren Oduya,,,"Roadster, 1996",,',
  '',
].join('\r\n');

export const EXPORT_EXAMPLE = [
  '\uFEFFcarNumber,runGroup,entrantName,entrantEmail,entrantPhone,entrantPersonId,people,vehicle.description,vehicle.massKg,status,reason',
  '42,Novice,Ines Haldorsen,ines@example.org,\'+4915112345,ARC-2107,driver:Ines Haldorsen,"Club coupé 2.0, 2014",1210,no-declaration,No declaration has been submitted.',
  '',
].join('\r\n');

export const IMPORT_REPORT_EXAMPLE: ImportReport = {
  dryRun: false,
  created: 1,
  updated: 1,
  unchanged: 1,
  rejected: 0,
  numbersOfTwoCars: [],
  rows: [
    {
      row: 2,
      carNumber: '42',
      outcome: 'updated',
      entryId: '019ab8f0-0000-7000-8000-0000000000e1',
      changed: ['vehicle.massKg'],
    },
    { row: 3, carNumber: '42', outcome: 'unchanged', entryId: '019ab8f0-0000-7000-8000-0000000000e2' },
    { row: 4, carNumber: '07', outcome: 'created', entryId: '019ab8f0-0000-7000-8000-0000000000e3' },
  ],
};

export const IMPORT_SUMMARY_EXAMPLE: ImportSummary = {
  importId: '019ab8f0-0000-7000-8000-0000000000f8',
  eventId: '019ab8f0-0000-7000-8000-0000000000a1',
  state: 'done',
  done: 3,
  total: 3,
  requestedBy: 'Race office',
  requestedAt: '2026-06-12T19:30:00.000Z',
  finishedAt: '2026-06-12T19:30:02.000Z',
};

const { dryRun: _, ...WRITTEN } = IMPORT_REPORT_EXAMPLE;

export const IMPORT_VIEW_EXAMPLE: ImportView = { ...IMPORT_SUMMARY_EXAMPLE, ...WRITTEN };

const { finishedAt: _at, ...UNFINISHED } = IMPORT_SUMMARY_EXAMPLE;

export const IMPORT_ORDERED_EXAMPLE: ImportSummary = { ...UNFINISHED, state: 'waiting', done: 0 };

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
