import { v7 as uuidV7 } from 'uuid';
import { type Actor, personKey } from '../../domain/actor.ts';
import type { HoldSubject } from '../../domain/clearance/car-happenings.ts';
import type { HoldKind, LiftCheck } from '../../domain/clearance/inspect-again.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { KEPT_COLUMNS, keptJoin, type KeptRow, type Repeatable } from '../../http/frame/idempotency.ts';
import { type Clock, decisionTimePart } from '../../platform/clock.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { PlainTx, Statement } from '../../platform/database/plain-transaction.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import { STICKERS } from '../../records/what-stands.ts';
import { ENTRY_COLUMNS, ENTRY_JOINS, type EntryRow } from '../../records/locks/entry-lock.ts';

/** A hold as it is kept. */
export interface StoredHold {
  holdId: string;
  entryId: string;
  about: HoldSubject;
  kind: HoldKind;
  carId: string | null;
  personId: string | null;
  byEntrant: boolean;
  reason: string;
  placedBy: string;
  placedById: string;
  placedAt: Date;
  lifted: { by: string; at: Date; reason: string; exception: string | null } | undefined;
  requiresReinspection: boolean;
}

type Row = Awaited<ReturnType<Tx['hold']['findUniqueOrThrow']>>;

function toStored(row: Row): StoredHold {
  const { id, placedName, placedBy: placedById, liftedName, liftedAt, liftReason, liftException } = row;
  return {
    holdId: id,
    entryId: row.entryId,
    // the closed sets are checked by the table
    about: row.about as HoldSubject,
    kind: row.kind as HoldKind,
    carId: row.carId,
    personId: row.personId,
    byEntrant: row.byEntrant,
    reason: row.reason,
    placedBy: placedName,
    placedById,
    placedAt: row.placedAt,
    lifted:
      liftedAt === null
        ? undefined
        : { by: liftedName ?? '', at: liftedAt, reason: liftReason ?? '', exception: liftException },
    requiresReinspection: row.requiresReinspection,
  };
}

export interface NewHold {
  entryId: string;
  about: HoldSubject;
  kind: HoldKind;
  carId: string | undefined;
  personId: string | undefined;
  reason: string;
  actor: Actor;
  at: Date;
}

export async function insertHold(tx: Tx, hold: NewHold): Promise<StoredHold> {
  const { actor, at, carId, personId, ...rest } = hold;
  const row = await tx.hold.create({
    data: {
      id: uuidV7(),
      ...rest,
      carId: carId ?? null,
      personId: personId ?? null,
      byEntrant: actor.role === 'entrant',
      placedBy: actor.tokenId,
      placedName: actor.name,
      placedAt: at,
    },
  });
  return toStored(row);
}

export async function findHold(db: Tx, holdId: string): Promise<StoredHold | undefined> {
  const row = await db.hold.findUnique({ where: { id: holdId } });
  return row === null ? undefined : toStored(row);
}

/** Lifts the hold if it still stands; undefined when it does not. */
export async function updateLifted(
  tx: Tx,
  lift: {
    holdId: string;
    reason: string;
    checks: readonly LiftCheck[];
    exception: string | undefined;
    requiresReinspection: boolean;
    actor: Actor;
    at: Date;
  },
): Promise<StoredHold | undefined> {
  const rows = await tx.hold.updateManyAndReturn({
    where: { id: lift.holdId, liftedAt: null },
    data: {
      liftedBy: lift.actor.tokenId,
      liftedName: lift.actor.name,
      liftedAt: lift.at,
      liftReason: lift.reason,
      ...(lift.checks.length === 0 ? {} : { liftChecks: lift.checks as unknown as Prisma.InputJsonArray }),
      liftException: lift.exception ?? null,
      requiresReinspection: lift.requiresReinspection,
    },
  });
  return rows[0] === undefined ? undefined : toStored(rows[0]);
}

/** The record of the car that an entry drives. */
export async function getVehicle(db: Tx, vehicleId: string): Promise<Vehicle> {
  const { record } = await db.vehicle.findUniqueOrThrow({ where: { id: vehicleId }, select: { record: true } });
  // written by us only, from a typed value
  return record as unknown as Vehicle;
}

/** An entry of a car at an event, with the sticker it was given last. */
export interface CarEntry {
  entryId: string;
  carNumber: string;
  runGroup: string;
  sticker: string | null;
}

/** The same as `listCarEntries` with their `order`, for the car `k` of the statement around it. */
export const CAR_ENTRIES = Prisma.sql`
  SELECT oc.entry_id AS "entryId", oc.car_number AS "carNumber", og.name AS "runGroup", og.sort_order AS "order",
    oc.facts #>> '{signOff,stickerNumber}' AS sticker
  FROM clearances oc JOIN entries oe ON oe.id = oc.entry_id JOIN run_groups og ON og.id = oe.run_group_id
  WHERE oc.car_id = k.id AND NOT (oc.facts->>'withdrawn')::boolean`;

/** Entries of a car at an event that are still in it. */
export async function listCarEntries(db: Tx, carId: string): Promise<CarEntry[]> {
  return db.$queryRaw`
    SELECT c.entry_id AS "entryId", c.car_number AS "carNumber", g.name AS "runGroup",
      c.facts #>> '{signOff,stickerNumber}' AS sticker
    FROM clearances c JOIN entries e ON e.id = c.entry_id JOIN run_groups g ON g.id = e.run_group_id
    WHERE c.car_id = ${carId}::uuid AND NOT (c.facts->>'withdrawn')::boolean
    ORDER BY g.sort_order, c.entry_id`;
}

/** A person on an entry, by id; `name` is undefined where the entry names nobody with it. */
export interface Named {
  eventId: string;
  name: string | undefined;
  personIds: readonly string[];
  /** entries of the event that name somebody of the same name without this id */
  namesakes: readonly { carNumber: string; runGroup: string }[];
}

interface Person {
  name: string;
  personId?: string;
}

/** Looks a person up on an entry; undefined when there is no such entry. */
export async function findNamed(db: Tx, entryId: string, personId: string): Promise<Named | undefined> {
  const entry = await db.entry.findUnique({
    where: { id: entryId },
    select: { eventId: true, entrant: true, people: true },
  });
  if (entry === null) return undefined;
  // both are written by us only, from typed values
  const people = [entry.entrant, ...(entry.people as unknown[])] as Person[];
  const name = people.find((person) => person.personId === personId)?.name;
  const personIds = people.flatMap((person) => person.personId ?? []);
  return { eventId: entry.eventId, name, personIds, namesakes: await listNamesakes(db, entry.eventId, personId, name) };
}

async function listNamesakes(
  db: Tx,
  eventId: string,
  personId: string,
  name: string | undefined,
): Promise<Named['namesakes']> {
  if (name === undefined) return [];
  return db.$queryRaw`
    SELECT e.car_number AS "carNumber", g.name AS "runGroup"
    FROM entries e JOIN run_groups g ON g.id = e.run_group_id JOIN clearances c ON c.entry_id = e.id
    WHERE e.event_id = ${eventId}::uuid AND ${personKey(name)} = ANY (e.person_keys)
      AND NOT (${personId} = ANY (e.person_ids)) AND NOT (c.facts->>'withdrawn')::boolean
    ORDER BY g.sort_order, e.id`;
}

/** What a hold depends on. */
export interface HoldRow extends EntryRow, KeptRow {
  now: Date;
  vehicle: Vehicle;
  /** entries of the car that are still in the event */
  stopped: CarEntry[];
  stickers: string[];
  /** the hold that the entrant placed and that still stands; its instant as text */
  own: (Omit<StoredHold, 'placedAt' | 'lifted'> & { placedAt: string; lifted: undefined }) | null;
}

/** Everything that decides a hold at a locked entry, in the statement after the lock. */
export async function readForHold(
  tx: PlainTx,
  input: { entryId: string; request: Repeatable | undefined; clock: Clock },
): Promise<HoldRow | undefined> {
  const [row] = await tx.rows<HoldRow>(Prisma.sql`
    SELECT ${decisionTimePart(input.clock)} AS now, ${KEPT_COLUMNS}, ${ENTRY_COLUMNS}, v.record AS vehicle,
      ARRAY(${STICKERS}) AS stickers,
      COALESCE((SELECT jsonb_agg(to_jsonb(o) - 'order' ORDER BY o."order", o."entryId") FROM (${CAR_ENTRIES}) o),
        '[]'::jsonb) AS stopped,
      (SELECT jsonb_build_object('holdId', h.id, 'entryId', h.entry_id, 'about', h.about, 'kind', h.kind,
         'carId', h.car_id, 'personId', h.person_id, 'byEntrant', h.by_entrant, 'reason', h.reason,
         'placedBy', h.placed_name, 'placedById', h.placed_by,
         'placedAt', to_char(h.placed_at AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"'),
         'requiresReinspection', h.requires_reinspection)
       FROM holds h WHERE h.entry_id = e.id AND h.by_entrant AND h.lifted_at IS NULL ORDER BY h.id LIMIT 1) AS own
    FROM ${ENTRY_JOINS} JOIN vehicles v ON v.id = e.vehicle_id ${keptJoin(input.request)}
    WHERE e.id = ${input.entryId}::uuid`);
  return row;
}

/** A new hold as a part of one write. */
export function holdPart(hold: StoredHold): Statement {
  return Prisma.sql`
    INSERT INTO holds (id, entry_id, about, kind, car_id, person_id, by_entrant, reason, placed_by, placed_name, placed_at)
    VALUES (${hold.holdId}::uuid, ${hold.entryId}::uuid, ${hold.about}, ${hold.kind}, ${hold.carId}::uuid, ${hold.personId},
            ${hold.byEntrant}, ${hold.reason}, ${hold.placedById}::uuid, ${hold.placedBy}, ${hold.placedAt}::timestamptz)`;
}
