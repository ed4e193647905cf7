import { v7 as uuidV7 } from 'uuid';
import { lookKey } from '../../../domain/look-alikes.ts';
import type { Vehicle } from '../../../domain/vehicle.ts';
import { checkNumber, type NumberRules } from '../create.ts';
import { CreateEntry } from '../schemas.ts';
import type { EnteredCar } from '../store.ts';
import { type Column, findColumn, formatCell, setValueAt, VEHICLE_ID } from './csv-columns.ts';
import type { Known, KnownCar, KnownEntry } from './import-store.ts';
import type { Cell, RowFault } from './csv-table.ts';
import { type PlannedRow, type RowReport, vehicleCellsOf } from './import-schemas.ts';

/** What a row does when it is written; ids of what is new are given already. */
export type Step =
  | {
      act: 'enter';
      entryId: string;
      vehicleId: string;
      /** the record of a car that is new with this row */
      newCar: Vehicle | undefined;
      entry: CreateEntry;
    }
  | {
      act: 'change';
      entryId: string;
      vehicleId: string;
      /** members that change, as the history names them */
      changed: readonly string[];
      entrant: CreateEntry['entrant'];
      people: CreateEntry['people'];
      /** the whole record, where it changes */
      vehicle: Vehicle | undefined;
    };

export interface RowPlan {
  report: RowReport;
  /** absent: nothing is written for this row */
  step?: Step;
}

type Content = Record<string, unknown>;
type Groups = ReadonlyMap<string, string>;

/**
 * Decides what one row does to the event as the rows before it leave it, and notes that in `state`. Pure but for the
 * ids it gives; nothing is read or written.
 *
 * @param groups ids of the event's run groups by name
 */
export function planRow(state: ImportState, groups: Groups, row: PlannedRow): RowPlan {
  const existing = row.runGroupId === undefined ? undefined : findEntryIn(state, row.runGroupId, row.carNumber);
  return existing === undefined ? enter(state, groups, row) : revise(state, groups, row, existing);
}

function revise(state: ImportState, groups: Groups, row: PlannedRow, existing: KnownEntry): RowPlan {
  const { entrant, people, vehicleId, entryId } = existing;
  const named = vehicleIdOf(row);
  if (named !== undefined && named !== vehicleId) return rejected(row, [OTHER_CAR]);
  const before = { entrant, people, vehicle: state.cars.get(vehicleId)?.record };
  const cells = [...row.cells.filter(isOfEntry), ...vehicleCellsOf(row)];
  const { entry, faults } = judge(groups, row, merge(before, cells));
  if (entry === undefined || faults.length > 0) return rejected(row, faults);
  const changed = columnsThatDiffer(cells, before, entry);
  if (changed.length === 0) return { report: { ...nameOf(row), outcome: 'unchanged', entryId } };
  if (existing.withdrawn) return rejected(row, [WITHDRAWN]);
  const members = new Set(changed.map((column) => column.path[0]));
  const vehicle = members.has('vehicle') ? entry.vehicle : undefined;
  changeEntryOf(state, existing, { ...entry, vehicle });
  const names = ['entrant', 'people', 'vehicle'].filter((name) => members.has(name));
  return {
    report: { ...nameOf(row), outcome: 'updated', entryId, changed: changed.map((column) => column.name) },
    step: { act: 'change', entryId, vehicleId, changed: names, entrant: entry.entrant, people: entry.people, vehicle },
  };
}

function enter(state: ImportState, groups: Groups, row: PlannedRow): RowPlan {
  const named = findNamedCar(state, row, findCarOf(state, row.carNumber));
  if ('fault' in named) return rejected(row, [named.fault]);
  const { car } = named;
  // A new car may be described in the row of its other run group; a known one is described already.
  const vehicleCells = car === undefined ? row.carCells : vehicleCellsOf(row);
  const before = car === undefined ? {} : { vehicle: car.record };
  const cells = [...row.cells.filter(isOfEntry), ...vehicleCells];
  const { entry, faults } = judge(groups, row, merge(before, cells));
  if (entry === undefined || faults.length > 0) return rejected(row, faults);
  const differing = car === undefined ? [] : columnsThatDiffer(vehicleCells, before, entry);
  if (differing.length > 0) return rejected(row, differing.map(sharedCarFault));
  const { refused, warnings } = checkNumber(row.carNumber, carsNear(state, row.carNumber), state.rules);
  if (refused.length > 0)
    return rejected(
      row,
      refused.map(({ detail }) => looksAlike(detail)),
    );
  return {
    report: { ...nameOf(row), outcome: 'created', ...(warnings.length === 0 ? {} : { warnings: [...warnings] }) },
    step: noteNew(state, entry, car),
  };
}

function noteNew(state: ImportState, entry: CreateEntry, car: KnownCar | undefined): Step {
  const [entryId, vehicleId] = [uuidV7(), car?.vehicleId ?? uuidV7()];
  const newCar = car === undefined ? entry.vehicle : undefined;
  if (newCar !== undefined) state.cars.set(vehicleId, { vehicleId, record: newCar, rev: 1 });
  const { runGroupId, carNumber, entrant, people } = entry;
  addEntry(state, { entryId, runGroupId, carNumber, vehicleId, withdrawn: false, entrant, people, rev: 1 });
  return { act: 'enter', entryId, vehicleId, newCar, entry };
}

const isOfEntry = ({ column }: Cell): boolean => column.path[0] !== 'vehicle' && column !== VEHICLE_ID;

/** The id of the car that a row names; undefined when the cell is empty or missing. */
export function vehicleIdOf({ cells }: Pick<PlannedRow, 'cells'>): string | undefined {
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

const WITHDRAWN: RowFault = {
  column: 'carNumber',
  code: 'withdrawn',
  detail: 'The entry was withdrawn, so it cannot be changed.',
};

/** The car that a row is about: that of its number at the event, else the one it names. */
function findNamedCar(
  state: ImportState,
  row: PlannedRow,
  shared: KnownCar | undefined,
): { car: KnownCar | undefined } | { fault: RowFault } {
  const vehicleId = vehicleIdOf(row);
  if (vehicleId === undefined) return { car: shared };
  if (shared !== undefined) return shared.vehicleId === vehicleId ? { car: shared } : { fault: OTHER_CAR };
  const car = state.cars.get(vehicleId);
  return car === undefined ? { fault: UNKNOWN_CAR } : { car };
}

function merge(before: Content, cells: readonly Cell[]): Content {
  const content = structuredClone(before);
  for (const { column, value } of cells) setValueAt(content, column.path, value);
  return content;
}

/** Judges what the entry would be by the schema of a single entry, and names the columns of what is wrong. */
function judge(groups: Groups, row: PlannedRow, content: Content): { entry?: CreateEntry; faults: RowFault[] } {
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
    ...groupFaults(groups, row),
    ...issues.filter(({ path }) => path[0] !== 'runGroupId').map((issue) => faultOf(issue, candidate)),
    ...(content['vehicle'] === undefined ? [missing('vehicle.description')] : []),
  ];
  // A cell that could not be read is no missing one.
  const first = faults.filter(
    (fault, i) => fault.column === undefined || faults.findIndex(({ column }) => column === fault.column) === i,
  );
  return parsed.success ? { entry: parsed.data, faults: first } : { faults: first };
}

function groupFaults(groups: Groups, { runGroup, runGroupId }: PlannedRow): RowFault[] {
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

const looksAlike = (detail: string): RowFault => ({ column: 'carNumber', code: 'looks-alike', detail });

function rejected(row: PlannedRow, errors: readonly RowFault[]): RowPlan {
  return { report: { ...nameOf(row), outcome: 'rejected', errors: [...errors] } };
}

/** The event as it is after the rows that were planned so far; nothing of it is written. */
interface ImportState {
  rules: NumberRules;
  /** by run group and number */
  entries: Map<string, KnownEntry>;
  cars: Map<string, KnownCar>;
  /** the car that runs under a number */
  carOfNumber: Map<string, string>;
  /** cars by the key of their numbers: those that a number can be taken for are under its own */
  numbers: Map<string, EnteredCar[]>;
}

export function openState({ entries, cars }: Known, rules: NumberRules): ImportState {
  const state: ImportState = {
    rules,
    entries: new Map(),
    cars: new Map(cars.map((car) => [car.vehicleId, car])),
    carOfNumber: new Map(),
    numbers: new Map(),
  };
  for (const entry of entries) addEntry(state, entry);
  return state;
}

const findEntryIn = ({ entries }: ImportState, runGroupId: string, carNumber: string): KnownEntry | undefined =>
  entries.get(keyOf(runGroupId, carNumber));

function findCarOf({ cars, carOfNumber }: ImportState, carNumber: string): KnownCar | undefined {
  const vehicleId = carOfNumber.get(carNumber);
  return vehicleId === undefined ? undefined : cars.get(vehicleId);
}

/** Notes an entry that a row will make. */
function addEntry(state: ImportState, entry: KnownEntry): void {
  const { carNumber, runGroupId, vehicleId, entryId } = entry;
  state.entries.set(keyOf(runGroupId, carNumber), entry);
  state.carOfNumber.set(carNumber, vehicleId);
  const record = state.cars.get(vehicleId)?.record ?? {};
  const car = { entryId, carNumber, vehicle: textIn(record, 'description'), colour: textIn(record, 'colour') };
  const key = lookKey(carNumber);
  const near = state.numbers.get(key);
  if (near === undefined) state.numbers.set(key, [car]);
  else near.push(car);
}

/** Cars whose numbers may be taken for this one, those of this number included, and a few others. */
const carsNear = ({ numbers }: ImportState, carNumber: string): readonly EnteredCar[] =>
  numbers.get(lookKey(carNumber)) ?? [];

/** Notes what a row will change of an entry and its car. */
function changeEntryOf(state: ImportState, entry: KnownEntry, after: CreateEntry): void {
  const { entrant, people, vehicle } = after;
  state.entries.set(keyOf(entry.runGroupId, entry.carNumber), { ...entry, entrant, people });
  const car = state.cars.get(entry.vehicleId);
  if (vehicle !== undefined && car !== undefined) state.cars.set(car.vehicleId, { ...car, record: vehicle });
}

function textIn(record: Record<string, unknown>, key: string): string | undefined {
  const value = record[key];
  return typeof value === 'string' ? value : undefined;
}

const keyOf = (runGroupId: string, carNumber: string): string => `${runGroupId}/${carNumber}`;
