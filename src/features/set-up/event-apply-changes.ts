import type { Tx } from '../../platform/database/db.ts';
import type { EventDays } from '../../records/locks/event-days.ts';
import { assertEventMakesSense } from './event-check.ts';
import type { EventChanges, EventInput } from './event-schemas.ts';
import { findZone, type StoredEvent } from './event-store.ts';

/**
 * What an event would be with the changes, and its days then. Nothing is stored.
 *
 * @throws ProblemError `not-acceptable`
 */
export async function applyChanges(
  db: Tx,
  current: StoredEvent,
  changes: EventChanges,
): Promise<{ wanted: EventInput; days: EventDays }> {
  const { reason: _reason, preview: _preview, ...fields } = changes;
  const wanted: EventInput = { ...toInput(current), ...fields };
  await assertEventMakesSense(db, wanted);
  const { startsOn, endsOn, venueId } = wanted;
  const timeZone = venueId === current.venueId ? current.timeZone : ((await findZone(db, venueId)) ?? current.timeZone);
  return { wanted, days: { startsOn, endsOn, timeZone } };
}

/** An event as it would be sent. */
export function toInput(event: StoredEvent): EventInput {
  return {
    name: event.name,
    venueId: event.venueId,
    startsOn: event.startsOn,
    endsOn: event.endsOn,
    declarationsOpenAt: event.declarationsOpenAt.toISOString(),
    declarationsCloseAt: event.declarationsCloseAt.toISOString(),
    retentionDays: event.retentionDays,
    lookAlikes: event.lookAlikes,
    zeroTwins: event.zeroTwins,
    instruments: event.instruments,
  };
}
