import type { Tx } from '../../platform/database/db.ts';

/** Since when a locked entry has waited on the line; undefined when it does not. */
export async function findQueuedAt(tx: Tx, entryId: string): Promise<Date | undefined> {
  const where = { entryId, state: { in: ['waiting', 'claimed'] } };
  return (await tx.ticket.findFirst({ where, select: { queuedAt: true } }))?.queuedAt;
}

/** The run group with the hash of the rules that judge it; undefined when the event has no such group. */
export async function findGroup(
  db: Tx,
  ids: { eventId: string; runGroupId: string },
): Promise<{ resolvedHash: string | null } | undefined> {
  const where = { id: ids.runGroupId, eventId: ids.eventId };
  return (await db.runGroup.findUnique({ where, select: { resolvedHash: true } })) ?? undefined;
}

/** Entries of a run group that a task has not come to yet, by car number. */
export async function listOpenEntries(db: Tx, runGroupId: string, taskId: string): Promise<string[]> {
  const rows = await db.$queryRaw<{ id: string }[]>`
    SELECT e.id FROM entries e
    WHERE e.run_group_id = ${runGroupId}::uuid
      AND NOT EXISTS (SELECT 1 FROM task_items i WHERE i.task_id = ${taskId}::uuid AND i.item_id = e.id)
    ORDER BY e.car_number, e.id`;
  return rows.map((row) => row.id);
}

/** How many entries a task has come to. */
export function countDone(db: Tx, taskId: string): Promise<number> {
  return db.taskItem.count({ where: { taskId } });
}
