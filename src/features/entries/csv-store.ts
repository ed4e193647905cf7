import type { Tx } from '../../platform/db.ts';
import type { KnownEntry } from './import-plan.ts';

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

export async function listKnownEntries(db: Tx, eventId: string): Promise<KnownEntry[]> {
  const rows = await db.$queryRaw<{ run_group_id: string; car_number: string; vehicle_id: string; out: boolean }[]>`
    SELECT e.run_group_id, e.car_number, e.vehicle_id, (c.facts->>'withdrawn')::boolean AS out
    FROM entries e JOIN clearances c ON c.entry_id = e.id
    WHERE e.event_id = ${eventId}::uuid`;
  return rows.map((row) => ({
    runGroupId: row.run_group_id,
    carNumber: row.car_number,
    vehicleId: row.vehicle_id,
    withdrawn: row.out,
  }));
}

/** A car with its record. */
export interface KnownCar {
  vehicleId: string;
  record: Record<string, unknown>;
}

/** The car that runs under this number at the event. */
export async function findCarOfNumber(tx: Tx, eventId: string, carNumber: string): Promise<KnownCar | undefined> {
  const rows = await tx.$queryRaw<KnownCar[]>`
    SELECT v.id AS "vehicleId", v.record FROM entries e JOIN vehicles v ON v.id = e.vehicle_id
    WHERE e.event_id = ${eventId}::uuid AND e.car_number = ${carNumber} LIMIT 1`;
  return rows[0];
}

export async function findCar(tx: Tx, vehicleId: string): Promise<KnownCar | undefined> {
  const rows = await tx.$queryRaw<KnownCar[]>`
    SELECT v.id AS "vehicleId", v.record FROM vehicles v WHERE v.id = ${vehicleId}::uuid`;
  return rows[0];
}
