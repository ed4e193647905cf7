import type { Actor, Role } from '../../domain/actor.ts';
import { type Db, inTransaction, type Tx } from '../../platform/database/db.ts';
import { type LockedEntry, type LockLevel, lockEntry } from './entry-lock.ts';

/** The row of an event's history that a job follows up: who did it, and what the row says. */
export interface EventCause {
  historyId: string;
  actor: Actor;
  /** as the change wrote it; the caller knows its shape */
  data: unknown;
}

/** The row with this number in the history of the event itself; undefined when there is none. */
export async function findEventCause(db: Tx, at: { eventId: string; seq: number }): Promise<EventCause | undefined> {
  const row = await db.history.findFirst({ where: { ...at, entryId: null, carId: null } });
  if (row === null) return undefined;
  const actor = { tokenId: row.actorId, role: row.actorRole as Role, name: row.actorName };
  return { historyId: row.id, actor, data: row.data };
}

/** Does something with every entry of an event or a run group, each locked in a transaction of its own. */
export async function forEachEntry(
  db: Db,
  of: { eventId: string } | { runGroupId: string },
  level: LockLevel,
  change: (tx: Tx, entry: LockedEntry) => Promise<void>,
): Promise<void> {
  const entries = await db.entry.findMany({ where: of, select: { id: true }, orderBy: { id: 'asc' } });
  for (const { id } of entries) {
    await inTransaction(db, async (tx) => {
      const entry = await lockEntry(tx, id, level);
      if (entry !== undefined) await change(tx, entry);
    });
  }
}
