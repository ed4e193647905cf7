import { lookKey } from '../../../domain/look-alikes.ts';
import type { EnteredCar } from '../store.ts';
import type { NumberRules } from '../create.ts';
import type { Known, KnownCar, KnownEntry } from './csv-store.ts';
import type { CreateEntry } from '../schemas.ts';

/** The event as it is after the rows that were planned so far; nothing of it is written. */
export interface ImportState {
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

export const findEntryIn = ({ entries }: ImportState, runGroupId: string, carNumber: string): KnownEntry | undefined =>
  entries.get(keyOf(runGroupId, carNumber));

export function findCarOf({ cars, carOfNumber }: ImportState, carNumber: string): KnownCar | undefined {
  const vehicleId = carOfNumber.get(carNumber);
  return vehicleId === undefined ? undefined : cars.get(vehicleId);
}

/** Notes an entry that a row will make. */
export function addEntry(state: ImportState, entry: KnownEntry): void {
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
export const carsNear = ({ numbers }: ImportState, carNumber: string): readonly EnteredCar[] =>
  numbers.get(lookKey(carNumber)) ?? [];

/** Notes what a row will change of an entry and its car. */
export function changeEntryOf(state: ImportState, entry: KnownEntry, after: CreateEntry): void {
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
