import type { Actor } from '../../domain/actor.ts';
import type { Tx } from '../../platform/database/db.ts';

/** The entry a condition belongs to. */
export async function findConditionEntry(db: Tx, conditionId: string): Promise<string | undefined> {
  const row = await db.condition.findUnique({ where: { id: conditionId }, select: { entryId: true } });
  return row?.entryId;
}

/** Marks an open condition as done; returns whether it was open. */
export async function updateDone(
  tx: Tx,
  done: { conditionId: string; note: string | undefined; actor: Actor; at: Date },
): Promise<boolean> {
  const { count } = await tx.condition.updateMany({
    where: { id: done.conditionId, doneAt: null },
    data: { doneAt: done.at, doneBy: done.actor.tokenId, doneName: done.actor.name, doneNote: done.note ?? null },
  });
  return count === 1;
}
