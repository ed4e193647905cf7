import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import type { Tx } from '../../platform/db.ts';
import { decisionTime } from '../../platform/decision-time.ts';
import { admissionDays, type EventDays, previewDays, sameDays } from '../../records/event-days.ts';
import type { VenuePreview, VenueReplacement } from './schemas.ts';
import { findVenue, listEventsAt } from './store.ts';

/** An event at a venue whose zone changes. */
export interface EventAtVenue {
  eventId: string;
  name: string;
  from: EventDays;
  to: EventDays;
  /** its first or last instant becomes another */
  moved: boolean;
  /** over by its days, as they are and as they would be: nobody is admitted any more */
  over: boolean;
}

/**
 * Shows what another zone of a venue would do to the cars that are signed off for its events. Nothing is written.
 *
 * @throws ProblemError `not-found`
 */
export async function previewVenue(deps: Deps, venueId: string, input: VenueReplacement): Promise<VenuePreview> {
  const db = deps.db.prisma;
  const current = await findVenue(db, venueId);
  if (current === undefined) throw notFound('venue');
  const now = await decisionTime(db, deps.clock);
  const { timeZone } = current.view;
  const events = await eventsAtVenue(db, { venueId, timeZone, wanted: input.timeZone, now });
  const shown = await Promise.all(
    events
      .filter(({ over }) => !over)
      .map(async ({ eventId, name, moved, from, to }) => {
        return { eventId, name, sameDays: !moved, ...(await previewDays(db, { eventId, from, to })) };
      }),
  );
  return { preview: zoneTag(venueId, events), sameZone: timeZone === input.timeZone, events: shown };
}

/** The events of a venue with their days as they are, and as they would be in another zone; by id. */
export async function eventsAtVenue(
  db: Tx,
  change: { venueId: string; timeZone: string; wanted: string; now: Date },
): Promise<EventAtVenue[]> {
  const { timeZone, wanted, now } = change;
  return (await listEventsAt(db, change.venueId)).map(({ eventId, name, startsOn, endsOn }) => {
    const from = { startsOn, endsOn, timeZone };
    const to = { startsOn, endsOn, timeZone: wanted };
    const over = [from, to].every((days) => admissionDays(days).until <= now);
    return { eventId, name, from, to, moved: !sameDays(from, to), over };
  });
}

/** Names a change of the zone: from what to what, for the events that it moves and that are not over. */
export function zoneTag(venueId: string, events: readonly EventAtVenue[]): string {
  const moved = events.filter((event) => event.moved && !event.over);
  return canonicalHash({ venueId, events: moved.map(({ eventId, from, to }) => ({ eventId, from, to })) });
}
