import { v7 as uuidV7 } from 'uuid';
import { type FactOrigin, type Origins, originsAfter } from '../../../domain/car/car-facts.ts';
import { NOTHING_WRONG } from '../../../domain/clearance/car-happenings.ts';
import { NOTHING_YET } from '../../../domain/clearance/clearance.ts';
import type { Vehicle } from '../../../domain/vehicle.ts';
import type { Tx } from '../../../platform/database/db.ts';
import { Prisma } from '../../../platform/prisma-client/client.ts';
import { openBreather } from '../../../platform/clock.ts';
import { type CreateEntry, personIdsOf, personKeysOf } from '../schemas.ts';

/** A car of the event as it is locked for an import. */
export interface ImportedCar {
  carId: string;
  vehicleId: string;
  historySeq: number;
}

/**
 * Makes the rows of cars that are new at the event, and locks them with those of all entries that change, in the order of
 * their ids. Returns the cars that are entered.
 */
export async function lockCars(
  tx: Tx,
  eventId: string,
  entered: readonly string[],
  entryIds: readonly string[],
): Promise<ImportedCar[]> {
  const vehicleIds = [...new Set(entered)].sort();
  await tx.$executeRaw`
    INSERT INTO car_clearances (id, event_id, vehicle_id, facts)
    SELECT r.id, ${eventId}::uuid, r.vehicle_id, ${JSON.stringify(NOTHING_WRONG)}::jsonb
    FROM unnest(${vehicleIds.map(() => uuidV7())}::uuid[], ${vehicleIds}::uuid[]) AS r (id, vehicle_id)
    ON CONFLICT (event_id, vehicle_id) DO NOTHING`;
  const rows = await tx.$queryRaw<(ImportedCar & { eventId: string })[]>`
    SELECT k.id AS "carId", k.event_id AS "eventId", k.vehicle_id AS "vehicleId", k.history_seq AS "historySeq" FROM car_clearances k
    -- one list of ids, which an index answers: with an OR every car of every event is read
    WHERE k.id = ANY (ARRAY(
      SELECT n.id FROM car_clearances n WHERE n.event_id = ${eventId}::uuid AND n.vehicle_id = ANY (${vehicleIds}::uuid[])
      UNION SELECT c.car_id FROM clearances c WHERE c.entry_id = ANY (${[...entryIds]}::uuid[])
    ))
    ORDER BY k.id FOR NO KEY UPDATE`;
  return rows.filter((row) => row.eventId === eventId);
}

/** Entries that use one of the vehicles at events that are not over on `day` (plain date). */
export async function listEntriesOfVehicles(tx: Tx, vehicleIds: readonly string[], day: string): Promise<string[]> {
  if (vehicleIds.length === 0) return [];
  const rows = await tx.$queryRaw<{ id: string }[]>`
    SELECT e.id FROM entries e
      JOIN LATERAL (SELECT FROM events ev WHERE ev.id = e.event_id AND ev.ends_on >= ${day}::date LIMIT 1) ahead ON true
    WHERE e.vehicle_id = ANY (${[...vehicleIds]}::uuid[])`;
  return rows.map(({ id }) => id);
}

/** Cars that are new, with who stands for what is written of them. */
export async function insertVehicles(
  tx: Tx,
  cars: readonly { vehicleId: string; record: Vehicle }[],
  by: FactOrigin,
): Promise<void> {
  if (cars.length === 0) return;
  await tx.$executeRaw`
    INSERT INTO vehicles (id, record, origins)
    SELECT r."vehicleId", r.record, ${JSON.stringify({ '': by })}::jsonb FROM jsonb_to_recordset(${JSON.stringify(cars)}::jsonb)
      AS r ("vehicleId" uuid, record jsonb)`;
}

/** Replaces records; what did not change stays from whom it was. */
export async function updateVehicles(
  tx: Tx,
  cars: readonly { vehicleId: string; record: Vehicle }[],
  by: FactOrigin,
): Promise<void> {
  if (cars.length === 0) return;
  const ids = cars.map(({ vehicleId }) => vehicleId);
  // written by us only, from typed values
  const known = await tx.$queryRaw<{ id: string; record: Vehicle; origins: Origins }[]>`
    SELECT id, record, origins FROM vehicles WHERE id = ANY (${ids}::uuid[])`;
  const before = new Map(known.map(({ id, ...one }) => [id, one]));
  const rows = cars.map(({ vehicleId, record }) => {
    const origins = originsAfter(before.get(vehicleId) ?? { record: {}, origins: {} }, record, by);
    return { vehicleId, record, origins };
  });
  await tx.$executeRaw`
    UPDATE vehicles v SET record = r.record, origins = r.origins, rev = v.rev + 1
    FROM jsonb_to_recordset(${JSON.stringify(rows)}::jsonb) AS r ("vehicleId" uuid, record jsonb, origins jsonb)
    WHERE v.id = r."vehicleId"`;
}

/** Makes entries with nothing in their clearances; an id of each is given. */
export async function insertEntries(
  tx: Tx,
  made: { eventId: string; createdBy: string },
  entries: readonly { entryId: string; vehicleId: string; entry: CreateEntry }[],
): Promise<void> {
  if (entries.length === 0) return;
  const rows = entries.map(({ entryId, vehicleId, entry }) => ({
    id: entryId,
    vehicle_id: vehicleId,
    run_group_id: entry.runGroupId,
    car_number: entry.carNumber,
    entrant: entry.entrant,
    people: entry.people,
    person_keys: personKeysOf(entry),
    person_ids: personIdsOf(entry),
  }));
  await tx.$executeRaw`
    WITH made AS (
      INSERT INTO entries (id, event_id, run_group_id, vehicle_id, car_number, entrant, people, person_keys, person_ids,
                           created_by)
      SELECT r.id, ${made.eventId}::uuid, r.run_group_id, r.vehicle_id, r.car_number, r.entrant, r.people, r.person_keys,
             r.person_ids, ${made.createdBy}::uuid
      FROM jsonb_to_recordset(${JSON.stringify(rows)}::jsonb) AS r (id uuid, run_group_id uuid, vehicle_id uuid,
        car_number text, entrant jsonb, people jsonb, person_keys text[], person_ids text[])
      RETURNING id, event_id, car_number, vehicle_id
    )
    INSERT INTO clearances (entry_id, event_id, car_number, car_id, facts)
    SELECT m.id, m.event_id, m.car_number, k.id, ${JSON.stringify(NOTHING_YET)}::jsonb
    FROM made m JOIN car_clearances k ON k.event_id = m.event_id AND k.vehicle_id = m.vehicle_id`;
}

/** Gives entries their people; the version of each goes on by one, also where only its car changed. */
export async function updateEntries(
  tx: Tx,
  changes: readonly { entryId: string; entrant: CreateEntry['entrant']; people: CreateEntry['people'] }[],
): Promise<void> {
  if (changes.length === 0) return;
  const rows = changes.map(({ entryId, ...named }) => ({
    id: entryId,
    ...named,
    person_keys: personKeysOf(named),
    person_ids: personIdsOf(named),
  }));
  await tx.$executeRaw`
    UPDATE entries e SET entrant = r.entrant, people = r.people, person_keys = r.person_keys, person_ids = r.person_ids,
      rev = e.rev + 1
    FROM jsonb_to_recordset(${JSON.stringify(rows)}::jsonb)
      AS r (id uuid, entrant jsonb, people jsonb, person_keys text[], person_ids text[])
    WHERE e.id = r.id`;
}

/** First day of an event (plain date); undefined when there is no such event. */
export async function findFirstDay(db: Tx, eventId: string): Promise<string | undefined> {
  const row = await db.event.findUnique({ where: { id: eventId }, select: { startsOn: true } });
  return row?.startsOn.toISOString().slice(0, 10);
}

/** Ids of an event's run groups by name, in their order. */
export async function mapRunGroups(db: Tx, eventId: string): Promise<Map<string, string>> {
  const rows = await db.runGroup.findMany({
    where: { eventId },
    select: { id: true, name: true },
    orderBy: [{ sortOrder: 'asc' }, { name: 'asc' }],
  });
  return new Map(rows.map((row) => [row.name, row.id]));
}

/** As `lockCarNumber`, for many: always in one order, so that two imports wait for each other instead of deadlocking. */
export async function lockCarNumbers(tx: Tx, eventId: string, carNumbers: readonly string[]): Promise<void> {
  await tx.$executeRaw`
    SELECT pg_advisory_xact_lock(hashtextextended(${eventId}::text || '/' || key, 0))
    FROM (SELECT DISTINCT look_key(n) AS key FROM unnest(${[...carNumbers]}::text[]) AS n) AS wanted
    ORDER BY key COLLATE "C"`;
}

/** An entry of the event with all that a file can say about it. */
export interface KnownEntry {
  entryId: string;
  runGroupId: string;
  carNumber: string;
  vehicleId: string;
  withdrawn: boolean;
  entrant: Record<string, unknown>;
  people: readonly unknown[];
  rev: number;
}

/** A car with its record. */
export interface KnownCar {
  vehicleId: string;
  record: Record<string, unknown>;
  rev: number;
}

/** What an event has, as one statement sees it. */
export interface Known {
  entries: readonly KnownEntry[];
  /** cars of the entries, and those that were asked for by id */
  cars: readonly KnownCar[];
  /** changes with whatever of it could change what a row means */
  mark: string;
}

/** Entries or cars that are read back in one step: a few milliseconds, and others have their turn. */
const PER_PART = 50;

const known = (eventId: string, vehicleIds: readonly string[]) => Prisma.sql`
  WITH known AS (
    SELECT e.id, e.run_group_id, e.car_number, e.vehicle_id, e.entrant, e.people, e.rev,
      COALESCE((c.facts->>'withdrawn')::boolean, false) AS withdrawn
    FROM entries e JOIN clearances c ON c.entry_id = e.id WHERE e.event_id = ${eventId}::uuid
  ),
  cars AS (
    SELECT v.id, v.record, v.rev FROM vehicles v
    -- one list of ids, which an index answers: with an OR every car of every event is read
    WHERE v.id = ANY (ARRAY(SELECT vehicle_id FROM known) || ${[...vehicleIds]}::uuid[])
  )`;

const MARK = Prisma.sql`
  md5(concat(
    (SELECT string_agg(concat_ws(' ', id, run_group_id, car_number, vehicle_id, rev, withdrawn), ',' ORDER BY id) FROM known),
    '; ',
    (SELECT string_agg(concat_ws(' ', id, rev), ',' ORDER BY id) FROM cars)
  ))`;

interface Part {
  kind: 'entries' | 'cars' | 'mark';
  /** JSON; of `mark` the mark itself */
  part: string;
}

/** All entries of an event with their cars, and the cars of these ids; takes no lock. */
export async function readKnown(db: Tx, eventId: string, vehicleIds: readonly string[]): Promise<Known> {
  const parts = await db.$queryRaw<Part[]>`
    ${known(eventId, vehicleIds)}
    SELECT 'entries' AS kind, jsonb_agg(jsonb_build_object('entryId', id, 'runGroupId', run_group_id, 'carNumber', car_number,
      'vehicleId', vehicle_id, 'withdrawn', withdrawn, 'entrant', entrant, 'people', people, 'rev', rev))::text AS part
    FROM (SELECT *, (row_number() OVER () - 1) / ${PER_PART} AS at FROM known) k GROUP BY at
    UNION ALL
    SELECT 'cars', jsonb_agg(jsonb_build_object('vehicleId', id, 'record', record, 'rev', rev))::text
    FROM (SELECT *, (row_number() OVER () - 1) / ${PER_PART} AS at FROM cars) c GROUP BY at
    UNION ALL
    SELECT 'mark', ${MARK}`;
  const breathe = openBreather();
  const entries: KnownEntry[] = [];
  const cars: KnownCar[] = [];
  let mark = '';
  for (const { kind, part } of parts) {
    // As this statement built them.
    if (kind === 'entries') entries.push(...(JSON.parse(part) as KnownEntry[]));
    else if (kind === 'cars') cars.push(...(JSON.parse(part) as KnownCar[]));
    else mark = part;
    await breathe();
  }
  return { entries, cars, mark };
}

/** What `mark` of the event is now; without its entries and cars. */
export async function readMark(db: Tx, eventId: string, vehicleIds: readonly string[]): Promise<string> {
  const rows = await db.$queryRaw<{ mark: string }[]>`${known(eventId, vehicleIds)} SELECT ${MARK} AS mark`;
  return rows[0]?.mark ?? '';
}
