import type { z } from 'zod';
import { POSITION_KEYS, type PositionScheme } from '../../catalogue/item.ts';
import type { Unit } from '../../quantity.ts';
import { Vehicle } from '../../vehicle.ts';

/** A property of the vehicle record that rules can read; one with a scheme has a value per position. */
export interface VehicleField {
  path: readonly string[];
  type:
    | { kind: 'number'; unit: Unit }
    | { kind: 'choice'; options: readonly string[] }
    | { kind: 'whole'; options: readonly number[] }
    | { kind: 'boolean' | 'text' };
  scheme?: PositionScheme;
}

const UNIT_SUFFIXES: readonly (readonly [string, Unit])[] = [
  ['Mm', 'mm'],
  ['Kpa', 'kPa'],
  ['Kg', 'kg'],
  ['Nm', 'N·m'],
  ['Minutes', 'min'],
  ['Deg', 'deg'],
  ['G', 'g'],
  ['V', 'V'],
  ['Kmh', 'km/h'],
];
const SCHEMES: readonly PositionScheme[] = ['wheel', 'axle', 'bushing'];

interface Definition {
  type: string;
  innerType?: z.core.$ZodType;
  shape?: Readonly<Record<string, z.core.$ZodType>>;
  entries?: Readonly<Record<string, string>>;
  values?: readonly unknown[];
}

// zod keeps what a schema is made of in `def`; the fields read here are those of the kinds vehicle.ts uses
const definitionOf = (schema: z.core.$ZodType): Definition => schema._zod.def;

function unwrap(schema: z.core.$ZodType): Definition {
  const definition = definitionOf(schema);
  return definition.innerType === undefined ? definition : unwrap(definition.innerType);
}

function leafType(definition: Definition, name: string): VehicleField['type'] | undefined {
  if (definition.type === 'enum') return { kind: 'choice', options: Object.values(definition.entries ?? {}) };
  if (definition.type === 'boolean') return { kind: 'boolean' };
  if (definition.type === 'string') return { kind: 'text' };
  if (definition.type === 'literal')
    return { kind: 'whole', options: (definition.values ?? []).filter((value) => typeof value === 'number') };
  const unit = UNIT_SUFFIXES.find(([suffix]) => name.endsWith(suffix))?.[1];
  return definition.type === 'number' && unit !== undefined ? { kind: 'number', unit } : undefined;
}

function schemeOf(names: readonly string[]): PositionScheme | undefined {
  return SCHEMES.find((scheme) => POSITION_KEYS[scheme].join() === names.join());
}

function listFields(schema: z.core.$ZodType, path: readonly string[]): VehicleField[] {
  const definition = unwrap(schema);
  const name = path.at(-1) ?? '';
  if (definition.type !== 'object') {
    const type = leafType(definition, name);
    return type === undefined ? [] : [{ path, type }];
  }
  const shape = Object.entries(definition.shape ?? {});
  const scheme = path.length > 0 ? schemeOf(shape.map(([key]) => key)) : undefined;
  if (scheme === undefined) return shape.flatMap(([key, inner]) => listFields(inner, [...path, key]));
  const [first] = shape;
  const type = first && leafType(unwrap(first[1]), name);
  return type === undefined ? [] : [{ path, type, scheme }];
}

/** What rules can read of the vehicle record, taken from its schema; the unit is in the name (`massKg`). */
export const VEHICLE_FIELDS: readonly VehicleField[] = listFields(Vehicle, []);

const BY_PATH: ReadonlyMap<string, VehicleField> = new Map(
  VEHICLE_FIELDS.map((field) => [field.path.join('.'), field]),
);

/** The field of a dotted path without its position: `massKg`, `baseline.camberDeg`, `rotorMinimumThicknessMm`. */
export function findVehicleField(path: string): VehicleField | undefined {
  return BY_PATH.get(path);
}

/** The value at a path of the record (a position is its last part); `undefined` when it is not stated. */
export function readVehicle(vehicle: Vehicle, path: readonly string[]): number | string | boolean | undefined {
  let value: unknown = vehicle;
  for (const name of path) {
    if (typeof value !== 'object' || value === null || !Object.hasOwn(value, name)) return undefined;
    value = (value as Readonly<Record<string, unknown>>)[name];
  }
  return typeof value === 'number' || typeof value === 'string' || typeof value === 'boolean' ? value : undefined;
}

/** What can decide which items apply: every choice, yes/no and whole number of the record, by its outer property. */
const DECIDING: readonly { name: string; inner: readonly string[] | undefined }[] = (() => {
  const inner = new Map<string, string[] | undefined>();
  for (const { path, scheme, type } of VEHICLE_FIELDS) {
    const [name = '', ...rest] = path;
    if (type.kind === 'number' || type.kind === 'text') continue;
    const names = scheme === undefined ? rest : POSITION_KEYS[scheme];
    inner.set(name, names.length === 0 ? undefined : [...(inner.get(name) ?? []), ...names]);
  }
  return Array.from(inner, ([name, names]) => ({ name, inner: names }));
})();

type Stated = string | number | boolean | undefined;

/** Cars with the same profile are asked the same items at the same positions. Runs once per judgement. */
export function profileOf(vehicle: Vehicle): string {
  // the properties in DECIDING hold single values, or single values by name
  const record = vehicle as unknown as Readonly<Record<string, Stated | Readonly<Record<string, Stated>>>>;
  let profile = '';
  for (const { name, inner } of DECIDING) {
    const value = record[name];
    if (typeof value !== 'object') {
      // a mark of its own for "nothing stated": without it, gaps of two properties could add up to the same text
      profile += `${value ?? '~'}|`;
    } else {
      for (const part of inner ?? []) profile += `${value[part] ?? ''}|`;
    }
  }
  return profile;
}
