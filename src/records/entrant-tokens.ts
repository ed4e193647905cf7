import { addDays, type PlainDate, startOfNextDay } from '../domain/calendar.ts';
import type { Tx } from '../platform/db.ts';

/** Days after the last event day for which an entrant's token works, unless told otherwise. */
const DAYS_AFTER_EVENT = 7;

/** The first instant at which an entrant's token of this event no longer works, unless told otherwise. */
export function entrantTokenEnd(event: { endsOn: PlainDate; timeZone: string }): Date {
  return startOfNextDay(addDays(event.endsOn, DAYS_AFTER_EVENT), event.timeZone);
}

/**
 * Moves the ends of an event's entrant tokens with the event, so that a postponed event does not lock its entrants out.
 * Only ends that were never chosen move: those that stand where the event put them.
 */
export async function moveEntrantTokenEnds(tx: Tx, eventId: string, ends: { from: Date; to: Date }): Promise<void> {
  if (ends.from.getTime() === ends.to.getTime()) return;
  await tx.token.updateMany({
    where: { entry: { eventId }, revokedAt: null, expiresAt: ends.from },
    data: { expiresAt: ends.to },
  });
}
