import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import { type EventDays, previewDays, sameDays } from '../../records/event-days.ts';
import { applyChanges } from './apply-changes.ts';
import type { EventPreview } from './preview-schemas.ts';
import type { EventChanges } from './schemas.ts';
import { findEvent } from './store.ts';

/**
 * Shows what other days, or another zone, would do to the cars that are signed off. Nothing is written.
 *
 * @throws ProblemError `not-found`, `not-acceptable`
 */
export async function previewEvent(deps: Deps, eventId: string, changes: EventChanges): Promise<EventPreview> {
  const db = deps.db.prisma;
  const current = await findEvent(db, eventId);
  if (current === undefined) throw notFound('event');
  const { days } = await applyChanges(db, current, changes);
  const moved = await previewDays(db, { eventId, from: current, to: days });
  return { preview: daysTag(eventId, current, days), sameDays: sameDays(current, days), ...moved };
}

/** Names a change of the days, from what to what: shown by the preview, asked for by the change. */
export function daysTag(eventId: string, from: EventDays, to: EventDays): string {
  const plain = ({ startsOn, endsOn, timeZone }: EventDays) => ({ startsOn, endsOn, timeZone });
  return canonicalHash({ eventId, from: plain(from), to: plain(to) });
}
