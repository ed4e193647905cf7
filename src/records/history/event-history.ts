import type { Tx } from '../../platform/database/db.ts';
import { type HistoryEntry, historyNotify, historyPart, readyRow, toHistoryRow } from './history.ts';

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
export async function recordEventChange(
  tx: Tx,
  event: LockedEvent,
  what: Omit<HistoryEntry, 'happening'>,
): Promise<void> {
  const { eventId } = event;
  const ready = readyRow({ eventId }, event, what);
  const row = toHistoryRow(ready, what, { entry_id: null, car_id: null, event_id: eventId });
  await tx.$executeRaw`
    WITH appended AS (${historyPart([row])})
    UPDATE events SET history_seq = ${row.seq}, history_hash = ${row.hash} WHERE id = ${eventId}::uuid
    RETURNING ${historyNotify(eventId)}`;
  event.historySeq = row.seq;
  event.historyHash = row.hash;
}

/**
 * Appends the same to the histories of several events, which it locks in order of their ids: call it after all other locks.
 * Events that are not there are left out.
 */
export async function recordEventsChange(
  tx: Tx,
  eventIds: readonly string[],
  what: Omit<HistoryEntry, 'happening'>,
): Promise<void> {
  for (const eventId of [...new Set(eventIds)].toSorted()) {
    const locked = await lockEvent(tx, eventId);
    if (locked !== undefined) await recordEventChange(tx, locked, what);
  }
}
