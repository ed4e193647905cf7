import type { Tx } from '../../../platform/database/db.ts';

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
}

/** All entries of an event with their cars, and the cars of these ids; takes no lock. */
export async function readKnown(db: Tx, eventId: string, vehicleIds: readonly string[]): Promise<Known> {
  const rows = await db.$queryRaw<Known[]>`
    WITH known AS (
      SELECT e.id, e.run_group_id, e.car_number, e.vehicle_id, e.entrant, e.people, e.rev,
        COALESCE((c.facts->>'withdrawn')::boolean, false) AS withdrawn
      FROM entries e JOIN clearances c ON c.entry_id = e.id WHERE e.event_id = ${eventId}::uuid
    )
    SELECT
      COALESCE((SELECT jsonb_agg(jsonb_build_object('entryId', id, 'runGroupId', run_group_id, 'carNumber', car_number,
        'vehicleId', vehicle_id, 'withdrawn', withdrawn, 'entrant', entrant, 'people', people, 'rev', rev))
        FROM known), '[]'::jsonb) AS entries,
      COALESCE((SELECT jsonb_agg(jsonb_build_object('vehicleId', v.id, 'record', v.record, 'rev', v.rev)) FROM vehicles v
        WHERE v.id IN (SELECT vehicle_id FROM known) OR v.id = ANY (${[...vehicleIds]}::uuid[])), '[]'::jsonb) AS cars`;
  return rows[0] ?? { entries: [], cars: [] };
}
