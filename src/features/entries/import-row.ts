import type { Actor } from '../../domain/actor.ts';
import { etagOf } from '../../http/etag.ts';
import { ProblemError } from '../../http/problem.ts';
import type { Tx } from '../../platform/db.ts';
import { enterCar } from './create.ts';
import { formatCell } from './csv-cells.ts';
import { type Column, findColumn, setValueAt } from './csv-columns.ts';
import { findCarOfNumber } from './csv-store.ts';
import type { Cell, RowFault } from './csv-table.ts';
import { type PlannedRow, vehicleCellsOf } from './import-plan.ts';
import type { RowReport } from './import-schemas.ts';
import { CreateEntry } from './schemas.ts';
import { findEntryOfNumber, type StoredEntry } from './store.ts';
import { changeEntryIn } from './update.ts';

/** What all rows of an import have in common. */
export interface ImportJob {
  eventId: string;
  actor: Actor;
  requestId: string;
  /** ids of the event's run groups by name */
  groups: ReadonlyMap<string, string>;
  now: Date;
}

type Content = Record<string, unknown>;

/**
 * Applies one row in the caller's transaction: enters the car, changes the entry, or leaves it as it is. A row that is
 * rejected has written nothing.
 *
 * @throws ProblemError `precondition-failed` when somebody else changed the entry meanwhile
 */
export async function importRow(tx: Tx, job: ImportJob, row: PlannedRow): Promise<RowReport> {
  const { runGroupId, carNumber } = row;
  if (runGroupId === undefined) return enter(tx, job, row);
  const existing = await findEntryOfNumber(tx, { eventId: job.eventId, runGroupId, carNumber }, job.now);
  return existing === undefined ? enter(tx, job, row) : revise(tx, job, row, existing);
}

async function revise(tx: Tx, job: ImportJob, row: PlannedRow, existing: StoredEntry): Promise<RowReport> {
  const { entrant, people, vehicle, entryId } = existing.view;
  const before = { entrant, people, vehicle };
  const cells = [...row.cells.filter(isNoVehicleCell), ...vehicleCellsOf(row)];
  const { entry, faults } = judge(job, row, merge(before, cells));
  if (entry === undefined || faults.length > 0) return rejected(row, faults);
  const changed = columnsThatDiffer(cells, before, entry);
  if (changed.length === 0) return { ...nameOf(row), outcome: 'unchanged', entryId };
  const members = new Set(changed.map((column) => column.path[0]));
  const change = {
    ...(members.has('entrant') ? { entrant: entry.entrant } : {}),
    ...(members.has('people') ? { people: entry.people } : {}),
    ...(members.has('vehicle') ? { vehicle: entry.vehicle } : {}),
  };
  const ifMatch = etagOf(existing.rev, existing.vehicleRev);
  try {
    await changeEntryIn(tx, job.actor, { entryId, ifMatch, change, requestId: job.requestId }, job.now);
  } catch (error) {
    if (!(error instanceof ProblemError) || error.slug !== 'state-moved-on') throw error;
    const detail = 'The entry was withdrawn, so it cannot be changed.';
    return rejected(row, [{ column: 'carNumber', code: 'withdrawn', detail }]);
  }
  return { ...nameOf(row), outcome: 'updated', entryId, changed: changed.map((column) => column.name) };
}

async function enter(tx: Tx, job: ImportJob, row: PlannedRow): Promise<RowReport> {
  const car = await findCarOfNumber(tx, job.eventId, row.carNumber);
  // A new car may be described in the row of its other run group; a known one is described already.
  const vehicleCells = car === undefined ? row.carCells : vehicleCellsOf(row);
  const before = car === undefined ? {} : { vehicle: car };
  const cells = [...row.cells.filter(isNoVehicleCell), ...vehicleCells];
  const { entry, faults } = judge(job, row, merge(before, cells));
  if (entry === undefined || faults.length > 0) return rejected(row, faults);
  if (car !== undefined) {
    const differing = columnsThatDiffer(vehicleCells, before, entry);
    if (differing.length > 0) return rejected(row, differing.map(sharedCarFault));
  }
  const entered = car === undefined ? entry : { ...entry, vehicle: undefined };
  const input = { eventId: job.eventId, entry: entered, requestId: job.requestId };
  const entryId = await enterCar(tx, job.actor, input, job.now);
  return { ...nameOf(row), outcome: 'created', entryId };
}

const isNoVehicleCell = ({ column }: Cell): boolean => column.path[0] !== 'vehicle';

function merge(before: Content, cells: readonly Cell[]): Content {
  const content = structuredClone(before);
  for (const { column, value } of cells) setValueAt(content, column.path, value);
  return content;
}

/** Judges what the entry would be by the schema of a single entry, and names the columns of what is wrong. */
function judge(job: ImportJob, row: PlannedRow, content: Content): { entry?: CreateEntry; faults: RowFault[] } {
  const candidate = {
    entrant: {},
    ...content,
    carNumber: row.carNumber === '' ? undefined : row.carNumber,
    runGroupId: row.runGroupId,
  };
  const parsed = CreateEntry.safeParse(candidate);
  const issues = parsed.error?.issues ?? [];
  const faults = [
    ...row.faults,
    ...groupFaults(job, row),
    ...issues.filter(({ path }) => path[0] !== 'runGroupId').map((issue) => faultOf(issue, candidate)),
    ...(content['vehicle'] === undefined ? [missing('vehicle.description')] : []),
  ];
  // A cell that could not be read is no missing one.
  const first = faults.filter(
    (fault, i) => fault.column === undefined || faults.findIndex(({ column }) => column === fault.column) === i,
  );
  return parsed.success ? { entry: parsed.data, faults: first } : { faults: first };
}

function groupFaults({ groups }: ImportJob, { runGroup, runGroupId }: PlannedRow): RowFault[] {
  if (runGroup === '') return [missing('runGroup')];
  if (runGroupId !== undefined) return [];
  const detail = `The event has no run group of this name. It has: ${[...groups.keys()].join(', ') || 'none'}.`;
  return [{ column: 'runGroup', code: 'unknown-reference', detail }];
}

function faultOf(issue: { code: string; path: readonly PropertyKey[]; message: string }, candidate: Content): RowFault {
  const column = findColumn(issue.path);
  if (column === undefined) return { code: issue.code.replaceAll('_', '-'), detail: issue.message };
  if (formatCell(column, candidate) === '') return missing(column.name);
  return { column: column.name, code: issue.code.replaceAll('_', '-'), detail: issue.message };
}

function missing(column: string): RowFault {
  return { column, code: 'missing', detail: 'This cell must not be empty.' };
}

function sharedCarFault({ name }: Column): RowFault {
  const detail =
    'The car runs under this number in another run group, with another value. Give the same, or leave all cells about the car empty.';
  return { column: name, code: 'shared-car-differs', detail };
}

function columnsThatDiffer(cells: readonly Cell[], before: Content, after: object): Column[] {
  return cells.map(({ column }) => column).filter((column) => formatCell(column, before) !== formatCell(column, after));
}

function nameOf(row: PlannedRow): { row: number; carNumber?: string } {
  return { row: row.row, ...(row.carNumber === '' ? {} : { carNumber: row.carNumber }) };
}

function rejected(row: PlannedRow, errors: readonly RowFault[]): RowReport {
  return { ...nameOf(row), outcome: 'rejected', errors: [...errors] };
}
