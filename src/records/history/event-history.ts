import { v7 as uuidV7 } from 'uuid';
import type { Tx } from '../../platform/database/db.ts';
import { HISTORY_CHANNEL, type HistoryEntry, readyRow } from './history.ts';

/** The head of the rows about an event itself, as its lock has it; changes with each `recordEventChange`. */
export interface LockedEvent {
  eventId: string;
  historySeq: number;
  historyHash: string;
}

/**
 * Locks an event for a change of itself, until the transaction ends. Entries and what refers to the event are not kept
 * waiting. Undefined when there is no such event.
 */
export async function lockEvent(tx: Tx, eventId: string): Promise<LockedEvent | undefined> {
  const rows = await tx.$queryRaw<LockedEvent[]>`
    SELECT id AS "eventId", history_seq AS "historySeq", history_hash AS "historyHash"
    FROM events WHERE id = ${eventId}::uuid FOR NO KEY UPDATE`;
  return rows[0];
}

/** Appends to the history of a locked event itself; what it tells can change answers at the gate for all of its cars. */
export async function recordEventChange(tx: Tx, event: LockedEvent, what: Omit<HistoryEntry, 'event'>): Promise<void> {
  const { eventId } = event;
  const { row, hash } = readyRow({ eventId }, event, what);
  await tx.$executeRaw`
    WITH appended AS (
      INSERT INTO history (id, seq, action, actor_id, actor_role, actor_name, at, data, request_id, prev_hash, hash,
                           event_id)
      VALUES (${uuidV7()}::uuid, ${row.seq}, ${row.action}, ${row.actorId}::uuid, ${row.actorRole}, ${what.actor.name},
              ${what.at}, ${JSON.stringify(row.data)}::jsonb, ${what.requestId ?? null}, ${row.prevHash}, ${hash},
              ${eventId}::uuid)
    )
    UPDATE events SET history_seq = ${row.seq}, history_hash = ${hash} WHERE id = ${eventId}::uuid
    RETURNING pg_notify(${HISTORY_CHANNEL}, id::text)`;
  event.historySeq = row.seq;
  event.historyHash = hash;
}

/**
 * Appends the same to the histories of several events, which it locks in order of their ids: call it after all other locks.
 * Events that are not there are left out.
 */
export async function recordEventsChange(
  tx: Tx,
  eventIds: readonly string[],
  what: Omit<HistoryEntry, 'event'>,
): Promise<void> {
  for (const eventId of [...new Set(eventIds)].toSorted()) {
    const locked = await lockEvent(tx, eventId);
    if (locked !== undefined) await recordEventChange(tx, locked, what);
  }
}
