import type { Tx } from '../../../platform/database/db.ts';
import { Prisma } from '../../../platform/prisma-client/client.ts';
import { openBreather } from '../../../platform/wait.ts';

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
