import { v7 as uuidV7 } from 'uuid';
import { carOf } from './vehicle-store.ts';
import { NOTHING_YET } from '../../domain/clearance/clearance.ts';
import { itemsToInspectAgain } from '../../domain/clearance/inspect-again.ts';
import { type FactOrigin, type Origins, originsAfter } from '../../domain/car/car-facts.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { viewClearance } from '../../http/views/clearance-view.ts';
import type { Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import { STATE_COLUMNS_SQL, STATE_JOINS_SQL, type StateRow, toClearanceState } from '../../records/what-stands.ts';
import type { NumberedCar } from '../../domain/look-alikes.ts';
import type { NumberRules } from './create.ts';
import { type CreateEntry, type EntryView, personIdsOf, personKeysOf, type UpdateEntry } from './schemas.ts';

export interface StoredEntry {
  view: EntryView;
  rev: number;
  vehicleRev: number;
}

/** A row as `ENTRY_SELECT` reads it. */
export interface EntryRow extends StateRow {
  entryId: string;
  eventId: string;
  runGroupId: string;
  carNumber: string;
  entrant: EntryView['entrant'];
  people: EntryView['people'];
  vehicleId: string;
  vehicle: Record<string, unknown>;
  shared: boolean;
  holds: Omit<EntryView['holds'][number], 'inspectAgain'>[];
  concessions: EntryView['concessions'];
  createdAt: Date;
  rev: number;
  vehicleRev: number;
}

const UTC = Prisma.raw(`'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"'`);

/** Reads entries `e` with their clearance `c` and the car's `k`; a condition follows. */
export const ENTRY_SELECT = Prisma.sql`
  SELECT e.id AS "entryId", e.event_id AS "eventId", e.run_group_id AS "runGroupId", ${STATE_COLUMNS_SQL},
         e.car_number AS "carNumber", e.entrant, e.people, e.vehicle_id AS "vehicleId", v.record AS vehicle,
         e.created_at AS "createdAt", e.rev, v.rev AS "vehicleRev",
         EXISTS (SELECT 1 FROM entries o WHERE o.event_id = e.event_id AND o.car_number = e.car_number AND o.id <> e.id)
           AS shared,
         COALESCE((SELECT jsonb_agg(jsonb_build_object('holdId', h.id, 'reason', h.reason, 'about', h.about, 'kind', h.kind,
             'byEntrant', h.by_entrant, 'placedBy', h.placed_name,
             'placedAt', to_char(h.placed_at AT TIME ZONE 'UTC', ${UTC})) ORDER BY h.id)
           FROM holds h WHERE (h.entry_id = e.id OR h.car_id = c.car_id) AND h.lifted_at IS NULL), '[]'::jsonb) AS holds,
         COALESCE((SELECT jsonb_agg(jsonb_strip_nulls(jsonb_build_object('concessionId', n.id, 'ruleId', n.rule_id,
             'reason', n.reason, 'condition', n.condition,
             'expiresAt', to_char(n.expires_at AT TIME ZONE 'UTC', ${UTC}))) ORDER BY n.id)
           FROM concessions n WHERE n.entry_id = e.id AND n.revoked_at IS NULL
             AND (n.approved_at IS NOT NULL OR NOT n.needs_second_person)), '[]'::jsonb) AS concessions
  FROM entries e
  -- the event again, so that a list of one event looks at its own groups only
  JOIN run_groups g ON g.id = e.run_group_id AND g.event_id = e.event_id
  JOIN vehicles v ON v.id = e.vehicle_id
  JOIN clearances c ON c.entry_id = e.id ${STATE_JOINS_SQL}`;

/** @param now decides what the clearance in the view says */
export function toStored(row: EntryRow, now: Date): StoredEntry {
  const view: EntryView = {
    entryId: row.entryId,
    eventId: row.eventId,
    runGroupId: row.runGroupId,
    runGroup: row.runGroup,
    carNumber: row.carNumber,
    entrant: row.entrant,
    people: row.people,
    vehicleId: row.vehicleId,
    vehicle: row.vehicle,
    shared: row.shared,
    clearance: viewClearance(toClearanceState(row), now),
    holds: row.holds.map((hold) => ({
      ...hold,
      // written by us only, from a typed value
      inspectAgain: hold.about === 'car' ? itemsToInspectAgain(hold.kind, row.vehicle as unknown as Vehicle) : [],
    })),
    concessions: row.concessions,
    createdAt: row.createdAt.toISOString(),
  };
  return { view, rev: row.rev, vehicleRev: row.vehicleRev };
}

/** @param now decides what the clearance in the view says */
export async function findEntry(db: Tx, entryId: string, now: Date): Promise<StoredEntry | undefined> {
  const rows = await db.$queryRaw<EntryRow[]>`${ENTRY_SELECT} WHERE e.id = ${entryId}::uuid`;
  return rows[0] === undefined ? undefined : toStored(rows[0], now);
}

/** The entry of exactly this number in this run group. */
export async function findEntryOfNumber(
  db: Tx,
  where: { eventId: string; runGroupId: string; carNumber: string },
  now: Date,
): Promise<StoredEntry | undefined> {
  const rows = await db.$queryRaw<EntryRow[]>`
    ${ENTRY_SELECT} WHERE e.event_id = ${where.eventId}::uuid AND e.run_group_id = ${where.runGroupId}::uuid
      AND e.car_number = ${where.carNumber}`;
  return rows[0] === undefined ? undefined : toStored(rows[0], now);
}

export async function eventExists(db: Tx, eventId: string): Promise<boolean> {
  return (await db.event.count({ where: { id: eventId } })) > 0;
}

export async function runGroupExists(db: Tx, eventId: string, runGroupId: string): Promise<boolean> {
  return (await db.runGroup.count({ where: { id: runGroupId, eventId } })) > 0;
}

/**
 * Keeps two entries of an event under one number, or under numbers that look alike, from being made or renumbered at
 * the same time.
 */
export async function lockCarNumber(tx: Tx, eventId: string, carNumber: string): Promise<void> {
  await tx.$executeRaw`
    SELECT pg_advisory_xact_lock(hashtextextended(${eventId}::text || '/' || look_key(${carNumber}), 0))`;
}

/** A car of the event under its number. */
export interface EnteredCar extends NumberedCar {
  entryId: string;
}

/** Cars of the event under this number, those whose numbers look like it, and some that do not. */
export async function listCarsNear(tx: Tx, eventId: string, carNumber: string): Promise<EnteredCar[]> {
  const rows = await tx.$queryRaw<(EnteredCar & { colour: string | null })[]>`
    SELECT e.id AS "entryId", e.car_number AS "carNumber", v.record->>'description' AS vehicle,
      v.record->>'colour' AS colour
    FROM clearances c JOIN entries e ON e.id = c.entry_id JOIN vehicles v ON v.id = e.vehicle_id
    WHERE c.event_id = ${eventId}::uuid AND look_key(c.car_number) = look_key(${carNumber})`;
  return rows.map(({ colour, ...car }) => (colour === null ? car : { ...car, colour }));
}

/** What the organizer decided for the event; undefined when there is no such event. */
export async function findNumberRules(db: Tx, eventId: string): Promise<NumberRules | undefined> {
  const row = await db.event.findUnique({ where: { id: eventId }, select: { lookAlikes: true, zeroTwins: true } });
  // Checks of the database keep both.
  return (row as NumberRules | null) ?? undefined;
}

/** The vehicle that runs under this number at the event already, leaving out one entry. */
export async function findVehicleOfNumber(
  tx: Tx,
  eventId: string,
  carNumber: string,
  exceptEntryId?: string,
): Promise<string | undefined> {
  const row = await tx.entry.findFirst({
    where: { eventId, carNumber, ...(exceptEntryId === undefined ? {} : { id: { not: exceptEntryId } }) },
    select: { vehicleId: true },
  });
  return row?.vehicleId;
}

export async function isNumberInGroup(
  tx: Tx,
  eventId: string,
  where: { carNumber: string; runGroupId: string },
): Promise<boolean> {
  const { carNumber, runGroupId } = where;
  return (await tx.entry.count({ where: { eventId, carNumber, runGroupId } })) > 0;
}

export async function vehicleExists(tx: Tx, vehicleId: string): Promise<boolean> {
  return (await tx.vehicle.count({ where: { id: vehicleId } })) > 0;
}

/** A car that is new, with who stands for what is written of it. */
export async function insertVehicle(tx: Tx, record: Vehicle, by: FactOrigin): Promise<string> {
  const origins = asJson({ '': by });
  return (await tx.vehicle.create({ data: { record, origins }, select: { id: true } })).id;
}

const asJson = (origins: Origins) => origins as unknown as Prisma.InputJsonObject; // plain values only

/** Replaces the record if it still has the version `rev`; returns whether it did. */
export async function updateVehicle(
  tx: Tx,
  car: { vehicleId: string; rev: number },
  record: Vehicle,
  by: FactOrigin,
): Promise<boolean> {
  const { vehicleId: id, rev } = car;
  const before = await tx.vehicle.findFirst({ where: { id, rev }, select: { record: true, origins: true } });
  if (before === null) return false;
  // written by us only, from typed values
  const known = { record: before.record as object, origins: before.origins as unknown as Origins };
  const origins = asJson(originsAfter(known, record, by));
  const { count } = await tx.vehicle.updateMany({
    where: { id, rev },
    data: { record, origins, rev: { increment: 1 } },
  });
  return count === 1;
}

/** Entries that use the vehicle at events that are not over on `day` (plain date), in the order of their ids. */
export async function listEntriesOfVehicle(tx: Tx, vehicleId: string, day: string): Promise<string[]> {
  const rows = await tx.entry.findMany({
    where: { vehicleId, event: { endsOn: { gte: new Date(`${day}T00:00:00Z`) } } },
    select: { id: true },
    orderBy: { id: 'asc' },
  });
  return rows.map((row) => row.id);
}

export async function insertEntry(
  tx: Tx,
  input: { eventId: string; vehicleId: string; createdBy: string; entry: CreateEntry },
): Promise<string> {
  const id = uuidV7();
  const { carNumber, runGroupId, entrant, people } = input.entry;
  await tx.entry.create({
    data: {
      id,
      eventId: input.eventId,
      runGroupId,
      vehicleId: input.vehicleId,
      carNumber,
      entrant,
      people,
      personKeys: personKeysOf(input.entry),
      personIds: personIdsOf(input.entry),
      createdBy: input.createdBy,
    },
  });
  const facts = NOTHING_YET as unknown as Prisma.InputJsonObject;
  const carId = await carOf(tx, input.eventId, input.vehicleId);
  await tx.clearance.create({ data: { entryId: id, eventId: input.eventId, carNumber, facts, carId } });
  return id;
}

/** Changes the entry if it still has the version `rev`; returns whether it did. */
export async function updateEntry(
  tx: Tx,
  entryId: string,
  rev: number,
  change: Omit<UpdateEntry, 'vehicle' | 'vehicleId' | 'newVehicle'> & { personKeys: string[]; personIds: string[] },
): Promise<boolean> {
  const { count } = await tx.entry.updateMany({
    where: { id: entryId, rev },
    data: { ...change, rev: { increment: 1 } },
  });
  if (count === 1 && change.carNumber !== undefined) {
    await tx.clearance.update({ where: { entryId }, data: { carNumber: change.carNumber } });
  }
  return count === 1;
}
