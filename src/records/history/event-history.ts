import { tokenEndAt } from '../../http/access/auth.ts';
import { type FieldError, notAcceptable } from '../../http/frame/problem.ts';
import type { TokenEvents } from '../../http/views/small-views.ts';
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

/** What is read of the events of a token. */
export const TOKEN_EVENTS = {
  select: { event: { select: { id: true, name: true, endsOn: true, venue: { select: { timeZone: true } } } } },
} as const;

export interface TokenEventRow {
  event: { id: string; name: string; endsOn: Date; venue: { timeZone: string } };
}

/** The events of a token, the one that ends last at the end; undefined for a token that is bound to none. */
export function viewTokenEvents(rows: readonly TokenEventRow[]): TokenEvents | undefined {
  if (rows.length === 0) return undefined;
  const view = ({ event: { id, name, endsOn, venue } }: TokenEventRow) => ({
    eventId: id,
    name,
    endsAt: tokenEndAt({ endsOn: endsOn.toISOString().slice(0, 10), timeZone: venue.timeZone }).toISOString(),
  });
  return rows.map(view).toSorted((a, b) => (a.endsAt < b.endsAt ? -1 : 1));
}

/**
 * Checks the events that a token is asked for: each exists, and none is over, where the token would never work.
 *
 * @param reach the events of a caller who gives out no more than he has; undefined: all
 * @throws ProblemError `not-acceptable` naming each place
 */
export async function assertTokenEvents(
  db: Tx,
  eventIds: readonly string[],
  { now, reach }: { now: Date; reach?: readonly string[] | undefined },
): Promise<void> {
  const rows = await db.event.findMany({ where: { id: { in: [...eventIds] } }, ...TOKEN_EVENTS.select.event });
  const ends = new Map(viewTokenEvents(rows.map((event) => ({ event })))?.map((one) => [one.eventId, one.endsAt]));
  const errors = eventIds.flatMap((eventId, place): FieldError[] => {
    const pointer = `/eventIds/${place}`;
    const endsAt = reach === undefined || reach.includes(eventId) ? ends.get(eventId) : undefined;
    if (endsAt === undefined) {
      return [{ pointer, code: 'unknown-event', detail: 'There is no such event.', in: 'body' }];
    }
    if (Date.parse(endsAt) > now.getTime()) return [];
    return [{ pointer, code: 'past', detail: `Tokens for this event ended at ${endsAt}.`, in: 'body' }];
  });
  if (errors.length === 0) return;
  throw notAcceptable(errors);
}
