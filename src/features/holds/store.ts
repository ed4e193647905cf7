import { v7 as uuidV7 } from 'uuid';
import type { Actor } from '../../domain/actor.ts';
import type { Tx } from '../../platform/db.ts';
import type { HoldView } from './schemas.ts';

export type StoredHold = Omit<HoldView, 'clearance' | 'carNumber'>;

interface Row {
  id: string;
  entryId: string;
  reason: string;
  placedName: string;
  placedAt: Date;
  liftedName: string | null;
  liftedAt: Date | null;
  liftReason: string | null;
  requiresReinspection: boolean;
}

function toStored(row: Row): StoredHold {
  return {
    holdId: row.id,
    entryId: row.entryId,
    reason: row.reason,
    placedBy: row.placedName,
    placedAt: row.placedAt.toISOString(),
    ...(row.liftedName === null ? {} : { liftedBy: row.liftedName }),
    ...(row.liftedAt === null ? {} : { liftedAt: row.liftedAt.toISOString() }),
    ...(row.liftReason === null ? {} : { liftReason: row.liftReason }),
    requiresReinspection: row.requiresReinspection,
  };
}

export async function insertHold(
  tx: Tx,
  hold: { entryId: string; reason: string; actor: Actor; at: Date },
): Promise<StoredHold> {
  const { entryId, reason, actor, at } = hold;
  const data = { id: uuidV7(), entryId, reason, placedBy: actor.tokenId, placedName: actor.name, placedAt: at };
  return toStored(await tx.hold.create({ data }));
}

export async function findHold(db: Tx, holdId: string): Promise<StoredHold | undefined> {
  const row = await db.hold.findUnique({ where: { id: holdId } });
  return row === null ? undefined : toStored(row);
}

/** Lifts the hold if it still stands; undefined when it does not. */
export async function updateLifted(
  tx: Tx,
  lift: { holdId: string; reason: string; requiresReinspection: boolean; actor: Actor; at: Date },
): Promise<StoredHold | undefined> {
  const rows = await tx.hold.updateManyAndReturn({
    where: { id: lift.holdId, liftedAt: null },
    data: {
      liftedBy: lift.actor.tokenId,
      liftedName: lift.actor.name,
      liftedAt: lift.at,
      liftReason: lift.reason,
      requiresReinspection: lift.requiresReinspection,
    },
  });
  return rows[0] === undefined ? undefined : toStored(rows[0]);
}
