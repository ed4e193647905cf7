import { z } from 'zod';
import { Vehicle } from '../../../domain/vehicle.ts';

/** How a cell is written: numbers and truth values as such, text guarded against formulas, people as a list. */
export type CellKind = 'text' | 'number' | 'boolean' | 'people';

/** A column of the file: `path` is the place of its value in an entry as the API shows it. */
export interface Column {
  name: string;
  kind: CellKind;
  path: readonly string[];
}

type Tree = Record<string, unknown>;
type JsonSchema = { type?: unknown; properties?: Record<string, JsonSchema> };

/** The two columns that say which entry a row is about. */
export const CAR_NUMBER: Column = { name: 'carNumber', kind: 'text', path: ['carNumber'] };
export const RUN_GROUP: Column = { name: 'runGroup', kind: 'text', path: ['runGroup'] };

/** A car that is known from an earlier event; its record then comes with it. */
export const VEHICLE_ID: Column = { name: 'vehicleId', kind: 'text', path: ['vehicleId'] };

const PEOPLE_COLUMNS: readonly Column[] = [
  { name: 'entrantName', kind: 'text', path: ['entrant', 'name'] },
  { name: 'entrantEmail', kind: 'text', path: ['entrant', 'email'] },
  { name: 'entrantPhone', kind: 'text', path: ['entrant', 'phone'] },
  { name: 'entrantLanguage', kind: 'text', path: ['entrant', 'language'] },
  { name: 'entrantPersonId', kind: 'text', path: ['entrant', 'personId'] },
  { name: 'people', kind: 'people', path: ['people'] },
];

/** One column per property of the vehicle record, read from its schema so that a new property cannot be forgotten. */
const VEHICLE_COLUMNS: readonly Column[] = leavesOf(z.toJSONSchema(Vehicle, { io: 'input' }) as JsonSchema, [
  'vehicle',
]);

/** Every column that an import reads, in the order of an export. */
export const COLUMNS: readonly Column[] = [CAR_NUMBER, RUN_GROUP, ...PEOPLE_COLUMNS, VEHICLE_ID, ...VEHICLE_COLUMNS];

/** Columns that an export adds for the reader and an import does not look at. */
export const READ_ONLY_COLUMNS: readonly Column[] = [
  { name: 'status', kind: 'text', path: ['clearance', 'status'] },
  { name: 'reason', kind: 'text', path: ['clearance', 'reason'] },
];

export function isVehicleColumn(column: Column): boolean {
  return column.path[0] === 'vehicle';
}

/** The column in which the value at this path stands, for a path as zod reports it. */
export function findColumn(path: readonly PropertyKey[]): Column | undefined {
  return COLUMNS.find((column) => column.path.every((step, i) => step === path[i]));
}

/** The value that belongs in a column; undefined when the entry does not have it. */
export function valueAt(entry: object, { path }: Column): unknown {
  let value: unknown = entry;
  for (const step of path) value = isTree(value) ? value[step] : undefined;
  return value;
}

/** Sets a value in a tree that is the caller's own; undefined takes it away, with the group that it leaves empty. */
export function setValueAt(tree: Tree, path: readonly string[], value: unknown): void {
  const [step = '', ...rest] = path;
  if (rest.length === 0) {
    if (value === undefined) delete tree[step];
    else tree[step] = value;
    return;
  }
  const child = tree[step];
  if (value === undefined) {
    if (!isTree(child) || valueAt(child, { name: '', kind: 'text', path: rest }) === undefined) return;
    setValueAt(child, rest, undefined);
    if (Object.keys(child).length === 0) delete tree[step];
    return;
  }
  const group = isTree(child) ? child : {};
  tree[step] = group;
  setValueAt(group, rest, value);
}

function isTree(value: unknown): value is Tree {
  return typeof value === 'object' && value !== null;
}

function leavesOf(schema: JsonSchema, path: readonly string[]): Column[] {
  if (schema.properties !== undefined) {
    return Object.entries(schema.properties).flatMap(([key, part]) => leavesOf(part, [...path, key]));
  }
  return [{ name: path.join('.'), kind: kindOf(schema, path), path }];
}

function kindOf({ type }: JsonSchema, path: readonly string[]): CellKind {
  if (type === 'number' || type === 'integer') return 'number';
  if (type === 'boolean') return 'boolean';
  if (type === 'string') return 'text';
  throw new Error(`${path.join('.')} has no form as a cell of a CSV file`);
}
