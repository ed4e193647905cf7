import { NOTHING_YET } from '../../domain/clearance.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import type { Tx } from '../../platform/db.ts';
import type { LockedEntry } from '../../records/entry-lock.ts';
import { type CreateEntry, personIdsOf, personKeysOf } from './schemas.ts';

interface LockedRow {
  entry_id: string;
  event_id: string;
  run_group_id: string;
  vehicle_id: string;
  car_number: string;
  person_keys: string[];
  facts: LockedEntry['facts'];
  history_seq: number;
  history_hash: string;
}

/** Locks entries in the order of their ids, and reads them by a statement of its own after that. */
export async function lockAllEntries(tx: Tx, entryIds: readonly string[]): Promise<LockedEntry[]> {
  if (entryIds.length === 0) return [];
  const ids = [...new Set(entryIds)];
  await tx.$queryRaw`SELECT entry_id FROM clearances WHERE entry_id = ANY (${ids}::uuid[]) ORDER BY entry_id FOR UPDATE`;
  const rows = await tx.$queryRaw<LockedRow[]>`
    SELECT c.entry_id, e.event_id, e.run_group_id, e.vehicle_id, e.car_number, e.person_keys, c.facts, c.history_seq,
      c.history_hash
    FROM clearances c JOIN entries e ON e.id = c.entry_id WHERE c.entry_id = ANY (${ids}::uuid[]) ORDER BY c.entry_id`;
  return rows.map((row) => ({
    entryId: row.entry_id,
    eventId: row.event_id,
    runGroupId: row.run_group_id,
    vehicleId: row.vehicle_id,
    carNumber: row.car_number,
    personKeys: row.person_keys,
    facts: row.facts,
    historySeq: row.history_seq,
    historyHash: row.history_hash,
  }));
}

/** Entries that use one of the vehicles at events that are not over on `day` (plain date). */
export async function listEntriesOfVehicles(tx: Tx, vehicleIds: readonly string[], day: string): Promise<string[]> {
  if (vehicleIds.length === 0) return [];
  const rows = await tx.$queryRaw<{ id: string }[]>`
    SELECT e.id FROM entries e JOIN events ev ON ev.id = e.event_id
    WHERE e.vehicle_id = ANY (${[...vehicleIds]}::uuid[]) AND ev.ends_on >= ${day}::date`;
  return rows.map(({ id }) => id);
}

export async function insertVehicles(tx: Tx, cars: readonly { vehicleId: string; record: Vehicle }[]): Promise<void> {
  if (cars.length === 0) return;
  await tx.$executeRaw`
    INSERT INTO vehicles (id, record)
    SELECT r."vehicleId", r.record FROM jsonb_to_recordset(${JSON.stringify(cars)}::jsonb)
      AS r ("vehicleId" uuid, record jsonb)`;
}

export async function updateVehicles(tx: Tx, cars: readonly { vehicleId: string; record: Vehicle }[]): Promise<void> {
  if (cars.length === 0) return;
  await tx.$executeRaw`
    UPDATE vehicles v SET record = r.record, rev = v.rev + 1
    FROM jsonb_to_recordset(${JSON.stringify(cars)}::jsonb) AS r ("vehicleId" uuid, record jsonb)
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
      RETURNING id, event_id, car_number
    )
    INSERT INTO clearances (entry_id, event_id, car_number, facts)
    SELECT id, event_id, car_number, ${JSON.stringify(NOTHING_YET)}::jsonb FROM made`;
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
