import type { CreateEntryInput, EntryView } from '../../api/operations.ts';
import { given } from '../parts/use-values.ts';
import type { EntryValues } from './entry-fields.tsx';

export const EMPTY: EntryValues = {
  carNumber: '',
  runGroupId: '',
  name: '',
  email: '',
  phone: '',
  people: '',
  description: '',
  colour: '',
  body: '',
  drive: '',
  powertrain: '',
};

const VEHICLE = ['description', 'colour', 'body', 'drive', 'powertrain'] as const;
const ROLES = ['driver', 'crew', 'preparer'] as const;
type Person = NonNullable<CreateEntryInput['people']>[number];

const textOf = (value: unknown): string => (typeof value === 'string' ? value : '');

/** People as they are typed, one a line: `Name`, or `crew: Name`. Who is named without a role drives. */
export function peopleFrom(typed: string): readonly Person[] {
  return typed
    .split('\n')
    .map((line) => line.trim())
    .filter((line) => line !== '')
    .map((line) => {
      const [before = '', ...after] = line.split(':');
      const role = ROLES.find((one) => one === before.trim().toLowerCase());
      return role === undefined ? { name: line, role: 'driver' } : { name: after.join(':').trim(), role };
    });
}

export function valuesOf({ carNumber, runGroupId, entrant, people, vehicle }: EntryView): EntryValues {
  const car = Object.fromEntries(VEHICLE.map((name) => [name, textOf(vehicle[name])]));
  return {
    ...EMPTY,
    carNumber,
    runGroupId,
    name: entrant.name,
    email: entrant.email ?? '',
    phone: entrant.phone ?? '',
    people: people.map(({ name, role }) => `${role}: ${name}`).join('\n'),
    ...car,
  };
}

export function entrantFrom({ name, email, phone }: EntryValues): CreateEntryInput['entrant'] {
  return { name: name.trim(), ...optional('email', email), ...optional('phone', phone) };
}

/** The record of the car with what was typed; what the form does not show stays as it was. */
export function vehicleFrom(
  values: EntryValues,
  before: Readonly<Record<string, unknown>> = {},
): NonNullable<CreateEntryInput['vehicle']> {
  const changed: Record<string, unknown> = { ...before };
  for (const name of VEHICLE) {
    const value = given(values[name] ?? '');
    if (value === undefined) delete changed[name];
    else changed[name] = value;
  }
  // The server looks at every member and names what it does not take.
  return changed as NonNullable<CreateEntryInput['vehicle']>;
}

const optional = <K extends string>(name: K, value: string): { [P in K]?: string } => {
  const kept = given(value);
  return (kept === undefined ? {} : { [name]: kept }) as { [P in K]?: string };
};
