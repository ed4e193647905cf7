import type { Actor } from '../../domain/actor.ts';
import { etagOf } from '../../http/etag.ts';
import { Id } from '../../http/common-schemas.ts';
import { ProblemError } from '../../http/problem.ts';
import type { Tx } from '../../platform/db.ts';
import { enterCar } from './create.ts';
import { formatCell } from './csv-cells.ts';
import { type Column, findColumn, setValueAt, VEHICLE_ID } from './csv-columns.ts';
import { findCar, findCarOfNumber, type KnownCar } from './csv-store.ts';
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
  const { entrant, people, vehicle, vehicleId, entryId } = existing.view;
  const named = vehicleIdOf(row);
  if (named !== undefined && named !== vehicleId) return rejected(row, [OTHER_CAR]);
  const before = { entrant, people, vehicle };
  const cells = [...row.cells.filter(isOfEntry), ...vehicleCellsOf(row)];
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
  const shared = await findCarOfNumber(tx, job.eventId, row.carNumber);
  const named = await findNamedCar(tx, row, shared);
  if ('fault' in named) return rejected(row, [named.fault]);
  const { car } = named;
  // A new car may be described in the row of its other run group; a known one is described already.
  const vehicleCells = car === undefined ? row.carCells : vehicleCellsOf(row);
  const before = car === undefined ? {} : { vehicle: car.record };
  const cells = [...row.cells.filter(isOfEntry), ...vehicleCells];
  const { entry, faults } = judge(job, row, merge(before, cells));
  if (entry === undefined || faults.length > 0) return rejected(row, faults);
  if (car !== undefined) {
    const differing = columnsThatDiffer(vehicleCells, before, entry);
    if (differing.length > 0) return rejected(row, differing.map(sharedCarFault));
  }
  return enterOne(tx, job, row, car === undefined ? entry : { ...entry, vehicle: undefined, vehicleId: car.vehicleId });
}

async function enterOne(tx: Tx, job: ImportJob, row: PlannedRow, entry: CreateEntry): Promise<RowReport> {
  const input = { eventId: job.eventId, entry, requestId: job.requestId };
  try {
    const { entryId, warnings } = await enterCar(tx, job.actor, input, job.now);
    const told = warnings.length === 0 ? {} : { warnings: [...warnings] };
    return { ...nameOf(row), outcome: 'created', entryId, ...told };
  } catch (error) {
    // Thrown before anything of the row was written.
    if (!(error instanceof ProblemError) || error.slug !== 'car-number-looks-alike') throw error;
    const faults = (error.extensions['errors'] as { code: string; detail: string }[]) ?? [];
    return rejected(
      row,
      faults.map(({ code, detail }) => ({ column: 'carNumber', code, detail })),
    );
  }
}

const isOfEntry = ({ column }: Cell): boolean => column.path[0] !== 'vehicle' && column !== VEHICLE_ID;

function vehicleIdOf({ cells }: PlannedRow): string | undefined {
  const value = cells.find(({ column }) => column === VEHICLE_ID)?.value;
  return typeof value === 'string' ? value.toLowerCase() : undefined;
}

const OTHER_CAR: RowFault = {
  column: VEHICLE_ID.name,
  code: 'other-vehicle',
  detail: 'This number runs with another car at this event. Leave the cell empty, or give the id of that car.',
};
const UNKNOWN_CAR: RowFault = {
  column: VEHICLE_ID.name,
  code: 'unknown-reference',
  detail: 'There is no vehicle with this id. Leave the cell empty and describe the car.',
};

/** The car that a row is about: that of its number at the event, else the one it names. */
async function findNamedCar(
  tx: Tx,
  row: PlannedRow,
  shared: KnownCar | undefined,
): Promise<{ car: KnownCar | undefined } | { fault: RowFault }> {
  const vehicleId = vehicleIdOf(row);
  if (vehicleId === undefined) return { car: shared };
  if (shared !== undefined) return shared.vehicleId === vehicleId ? { car: shared } : { fault: OTHER_CAR };
  const car = Id.safeParse(vehicleId).success ? await findCar(tx, vehicleId) : undefined;
  return car === undefined ? { fault: UNKNOWN_CAR } : { car };
}

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
  const detail = 'The car is known with another value. Give the same, or leave all cells about the car empty.';
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
