import { v7 as uuidV7 } from 'uuid';
import type { Actor } from '../../domain/actor.ts';
import type { HoldSubject } from '../../domain/car-facts.ts';
import type { HoldKind, LiftCheck } from '../../domain/hold-kinds.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import type { Tx } from '../../platform/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';

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
