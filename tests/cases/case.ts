import { readdirSync, readFileSync } from 'node:fs';
import { z } from 'zod';
import { changeAnswers, goodAnswers } from '../../seed/answers.ts';
import { type Overrides, PROFILE_NAMES, PROFILES } from '../../seed/built-in.ts';
import { CARS, type CarKind, carOf } from '../../seed/cars.ts';
import { STARTS_ON } from '../../seed/examples/example-case.ts';
import { type FactOrigin, listFacts, type Origins } from '../../src/domain/car/car-facts.ts';
import { findItem, itemApplies, positionsFor } from '../../src/domain/catalogue/catalogue.ts';
import type { RawAnswers } from '../../src/domain/declaration/declaration.ts';
import { ParameterName, ParameterOverride } from '../../src/domain/rules/model/rule-set.ts';
import { Vehicle } from '../../src/domain/vehicle.ts';
import { VENUE_NAMES } from './venues.ts';

const FOLDER = new URL('../../seed/cases/', import.meta.url);
const KINDS = Object.keys(CARS) as CarKind[]; // the keys of a constant record
const day = z.string().regex(/^\d{4}-\d{2}-\d{2}$/);
const Cells = z.record(z.string(), z.unknown());

/** An earlier event that the car was accepted for, with what its declaration had otherwise than a good one. */
const Earlier = z.strictObject({ startsOn: day, endsOn: day, changes: Cells.default({}) });

/**
 * One car as people bring it, and what must become of it.
 *
 * `stopped`: the gate is not green, whether the inspector only ticks what he is shown or measures it. `through`: the
 * declaration is not barred, and the gate is green after an inspector who measures what he is asked to.
 */
const CaseDocument = z.strictObject({
  id: z.string().regex(/^[a-z0-9-]+$/),
  car: z.enum(KINDS),
  /** what is otherwise in the record of the car; merged into it, `null` takes a property away (RFC 7396) */
  vehicle: z.record(z.string(), z.unknown()).optional(),
  /** facts of the car that its owner wrote and nobody confirmed, by path; a field stands for all its places */
  entered: z.array(z.string()).optional(),
  group: z.enum(PROFILE_NAMES),
  /** what the group has otherwise than its profile */
  parameters: z.record(ParameterName, ParameterOverride).optional(),
  venue: z.enum(VENUE_NAMES).optional(),
  earlier: z.array(Earlier).optional(),
  /** what is declared otherwise than of a good car, by cell: see `seed/answers.ts` */
  changes: Cells.optional(),
  /** how the car is, where a measurement at the line shows it otherwise than declared */
  measures: Cells.optional(),
  expected: z.enum(['stopped', 'through']),
  why: z.string().min(10).max(240),
  source: z.string().min(5),
});
type CaseDocument = z.infer<typeof CaseDocument>;

/** A case with what is made of it: the car, the group's limits, what is declared and what can be measured. */
export interface Case extends Omit<CaseDocument, 'vehicle' | 'parameters' | 'measures' | 'earlier' | 'entered'> {
  area: string;
  vehicle: Vehicle;
  /** who said what of it */
  origins: Origins;
  parameters: Overrides;
  answers: RawAnswers;
  measures: RawAnswers;
  earlier: readonly { startsOn: string; endsOn: string; answers: RawAnswers }[];
}

type Json = Readonly<Record<string, unknown>>;
const isObject = (value: unknown): value is Json =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

/** RFC 7396: objects are merged, `null` removes, anything else replaces. */
function merge(target: unknown, patch: unknown): unknown {
  if (!isObject(patch)) return patch;
  const merged: Record<string, unknown> = isObject(target) ? { ...target } : {};
  for (const [key, value] of Object.entries(patch)) {
    if (value === null) delete merged[key];
    else merged[key] = merge(merged[key], value);
  }
  return merged;
}

function build(area: string, { vehicle: patch = {}, ...document }: CaseDocument): Case {
  const vehicle = Vehicle.parse(merge(JSON.parse(JSON.stringify(carOf(document.car))), patch));
  const unknown = unknownCells(document, vehicle);
  if (unknown.length > 0) throw new Error(`This car has no ${unknown.join(', ')}`);
  const answersOn = (startsOn: string, changes: Json = {}) =>
    changeAnswers(goodAnswers(vehicle, startsOn), changes, vehicle);
  const { entered, ...said } = document;
  return {
    ...said,
    area,
    vehicle,
    origins: originsOf(entered, vehicle),
    parameters: { ...PROFILES[document.group], ...document.parameters },
    answers: answersOn(STARTS_ON, document.changes),
    measures: changeAnswers({}, document.measures ?? {}, vehicle),
    earlier: (document.earlier ?? []).map(({ startsOn, endsOn, changes }) => ({
      startsOn,
      endsOn,
      answers: answersOn(startsOn, changes),
    })),
  };
}

const BY_OWNER: FactOrigin = {
  origin: 'entered',
  by: { as: 'owner', name: 'The owner' },
  at: `${STARTS_ON}T00:00:00.000Z`,
};

function originsOf(entered: readonly string[] = [], vehicle: Vehicle): Origins {
  const paths = listFacts(vehicle).map(([path]) => path);
  return Object.fromEntries(
    entered.flatMap((named) => {
      const found = paths.filter((path) => path === named || path.startsWith(`${named}.`));
      if (found.length === 0) throw new Error(`This car has no ${named}`);
      return found.map((path) => [path, BY_OWNER]);
    }),
  );
}

/** Cells that the catalogue has nothing for: a mistyped one would change nothing, and the case show nothing. */
function unknownCells(
  { changes = {}, measures = {} }: Pick<CaseDocument, 'changes' | 'measures'>,
  vehicle: Vehicle,
): string[] {
  return [...Object.keys(changes), ...Object.keys(measures)].filter((cell) => {
    const [key = '', position] = cell.split('@');
    const item = findItem(key);
    if (item === undefined || !itemApplies(item, vehicle)) return true;
    const positions = positionsFor(item, vehicle);
    if (position === undefined) return false;
    if (positions === undefined) return true;
    const start = position.endsWith('*') ? position.slice(0, -1) : undefined;
    return !positions.some((one) => (start === undefined ? one === position : one.startsWith(start)));
  });
}

function read(file: URL): unknown {
  return JSON.parse(readFileSync(file, 'utf8'));
}

/** All cases of `seed/cases`, a folder per area. A document that is not as it must be is named by its file and id. */
export function loadCases(): Case[] {
  const areas = readdirSync(FOLDER, { withFileTypes: true }).filter((entry) => entry.isDirectory());
  return areas.flatMap(({ name: area }) => {
    const folder = new URL(`${area}/`, FOLDER);
    return readdirSync(folder).flatMap((file) =>
      z
        .array(z.unknown())
        .parse(read(new URL(file, folder)))
        .map((raw, index) => {
          try {
            return build(area, CaseDocument.parse(raw));
          } catch (error) {
            const says = error instanceof Error ? error.message : String(error);
            throw new Error(`seed/cases/${area}/${file}, case ${index + 1}, ${JSON.stringify(raw)}: ${says}`, {
              cause: error,
            });
          }
        }),
    );
  });
}

/** What is known not to be as it must, with the reason: it must still be so, until it is mended and taken off the list. */
export interface Open {
  /** cases that do not come out as they say, by id */
  cases: Readonly<Record<string, string>>;
  /** rules that bar and have no car of their own on one side, by id */
  rules: Readonly<Record<string, string>>;
}

const Reasons = z.record(z.string(), z.string().min(10));
const Open = z.strictObject({ cases: Reasons, rules: Reasons });

/** @throws Error when the list is not as it must be */
export function loadOpen(): Open {
  return Open.parse(read(new URL('open.json', FOLDER)));
}
