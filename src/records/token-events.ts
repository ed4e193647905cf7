import { type FieldError, ProblemError } from '../http/frame/problem.ts';
import { tokenEndAt } from '../http/access/auth.ts';
import type { TokenEvents } from '../http/views/small-views.ts';
import type { Tx } from '../platform/database/db.ts';

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
  const detail = errors.map((fault) => `${fault.pointer}: ${fault.detail}`).join(' ');
  throw new ProblemError('not-acceptable', detail, { errors });
}
