import type { Actor } from '../../domain/actor.ts';
import { CATALOGUE, findItem } from '../../domain/catalogue/catalogue.ts';
import type { Item } from '../../domain/catalogue/item.ts';
import { isBasisName } from '../../domain/declaration/basis.ts';
import { type Answers, parseAnswers, parseCellKey } from '../../domain/declaration/declaration.ts';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/frame/problem.ts';
import type { VehicleRecords } from './vehicle-schemas.ts';
import { findVehicleRecord, isVehicleOfEntry, listRecords, type RecordRow } from './vehicle-store.ts';

type EventRecord = VehicleRecords['events'][number];
type Value = EventRecord['wear'][number];

const WEAR: readonly string[] = ['pad.thickness', 'rotor.thickness', 'rotor.weight', 'tyre.tread'];
const isSetup = (key: string): boolean => key.startsWith('setup.');
/** Every item that asks for the day something was changed or serviced: its name says so. */
const SERVICES: ReadonlySet<string> = new Set(
  CATALOGUE.map(({ key }) => key).filter((key) => /\.(changed|flushed|serviced)-on$/u.test(key)),
);

/**
 * What is known of a car across events: what was declared, what the line measured, the services and the set-up. An
 * entrant sees the car of the own entry only.
 *
 * @throws ProblemError `not-found`
 */
export async function readVehicleRecords(deps: Deps, actor: Actor, vehicleId: string): Promise<VehicleRecords> {
  const db = deps.db.prisma;
  const vehicle = await findVehicleRecord(db, vehicleId);
  const { role, entryId } = actor;
  const isHidden = role === 'entrant' && !(entryId !== undefined && (await isVehicleOfEntry(db, vehicleId, entryId)));
  if (vehicle === undefined || isHidden) throw notFound('vehicle');
  return { vehicleId, vehicle, events: (await listRecords(db, vehicleId)).map(viewEvent) };
}

function viewEvent({ answers, checks, submittedAt, decision, ...row }: RecordRow): EventRecord {
  const values = valuesOf(answers, checks ?? []);
  const of = (wanted: (key: string) => boolean): Value[] => values.filter(({ item }) => wanted(item));
  return {
    ...row,
    submittedAt: submittedAt.toISOString(),
    // a check of the table keeps it to these
    decision: decision as EventRecord['decision'],
    wear: of((key) => WEAR.includes(key)),
    services: of((key) => SERVICES.has(key)),
    setup: of(isSetup),
  };
}

/** Answers that a later catalogue cannot read are not known, one question at a time. */
function read(
  raw: Readonly<Record<string, unknown>>,
): Map<string, Answers extends ReadonlyMap<string, infer V> ? V : never> {
  return new Map(
    Object.entries(raw).flatMap(([key, answer]) => {
      const parsed = parseAnswers({ [key]: answer });
      return parsed.ok ? [...parsed.answers] : [];
    }),
  );
}

function valuesOf(answers: RecordRow['answers'], checks: NonNullable<RecordRow['checks']>): Value[] {
  const wanted = ([key]: [string, unknown]): boolean => WEAR.includes(key) || SERVICES.has(key) || isSetup(key);
  const cells = new Map<string, Value>();
  const note = (raw: Readonly<Record<string, unknown>>, by: Value['by']): void => {
    for (const [cell, value] of read(Object.fromEntries(Object.entries(raw).filter(wanted)))) {
      const { key, position, field } = parseCellKey(cell);
      const item = findItem(key);
      if (item === undefined || typeof value === 'object' || isBasisName(cell)) continue;
      cells.set(cell, {
        item: key,
        label: item.label,
        ...(position !== undefined && { position }),
        ...(field !== undefined && { field }),
        value,
        ...unitOf(item, field),
        by,
      });
    }
  };
  note(answers, 'entrant');
  for (const { item, position, value } of checks) {
    if (value !== undefined) note({ [item]: position === undefined ? value : { [position]: value } }, 'inspector');
  }
  return [...cells.values()];
}

function unitOf({ answer }: Item, field: string | undefined): { unit?: string } {
  const type = answer.kind === 'fields' ? answer.fields[field ?? '']?.type : answer;
  return type?.kind === 'number' && type.unit !== '1' ? { unit: type.unit } : {};
}
