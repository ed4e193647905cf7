import { type AppliesWhen, type Item, POSITION_KEYS } from '../catalogue/item.ts';
import type { Vehicle } from '../vehicle.ts';
import { fieldText } from './explain-values.ts';
import { decidingItems } from './rule-each.ts';
import type { Rule } from './rule-set.ts';

/** The property of the vehicle record behind each condition of an item. */
const PROPERTY: Readonly<Record<keyof AppliesWhen, readonly string[]>> = {
  body: ['body'],
  powertrain: ['powertrain'],
  sump: ['sump'],
  restraint: ['restraint'],
  cooling: ['cooling'],
  caliper: ['caliper'],
  rotor: ['rotor'],
  bushing: ['bushing'],
  rebuildableDampers: ['damper', 'rebuildable'],
  clutchHydraulic: ['hydraulicClutch'],
  separateDifferential: ['separateDifferential'],
  fuelCell: ['fuelCell'],
};

const shown = (value: unknown): string => {
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (Array.isArray(value)) return value.join(' or ');
  if (typeof value !== 'object' || value === null) return String(value);
  // a record that was stored comes back with its names in another order
  return Object.entries(value)
    .toSorted(([a], [b]) => (a < b ? -1 : 1))
    .map(([where, one]) => `${where} ${String(one)}`)
    .join(', ');
};

function stated(vehicle: Vehicle, path: readonly string[]): unknown {
  let value: unknown = vehicle;
  for (const name of path) {
    value =
      typeof value === 'object' && value !== null ? (value as Readonly<Record<string, unknown>>)[name] : undefined;
  }
  return value;
}

function wanted(item: Item, vehicle: Vehicle): string {
  const parts = Object.entries(item.appliesWhen ?? {}).map(([name, value]) => {
    const path = PROPERTY[name as keyof AppliesWhen]; // the entries of an AppliesWhen have its keys
    const here = stated(vehicle, path);
    return `${fieldText(path)}: ${shown(value)} (this car: ${here === undefined ? 'not stated' : shown(here)})`;
  });
  const asked = `"${item.label}" is not asked of this car`;
  if (parts.length > 0) return `${asked}; it is asked where the record says ${parts.join(', ')}`;
  return item.positions === undefined ? asked : `${asked} at any of ${POSITION_KEYS[item.positions].join(', ')}`;
}

/** Why a rule has no place on a car: none of the items it judges is asked of it. */
export function whyNotAsked(rule: Rule, vehicle: Vehicle): string {
  return `${decidingItems(rule)
    .map((item) => wanted(item, vehicle))
    .join('; ')}.`;
}
