import type { Deps } from '../../deps.ts';
import { assertIfMatch, etagOf, stale } from '../../http/etag.ts';
import { notFound } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { entrantTokenEnd, moveEntrantTokenEnds } from '../../records/entrant-tokens.ts';
import { assertEventMakesSense } from './check.ts';
import type { EventChanges, EventInput } from './schemas.ts';
import { findEvent, type StoredEvent, updateEvent } from './store.ts';

/**
 * Changes the fields that are given, starting from the version the caller read.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `not-acceptable`
 */
export async function changeEvent(
  deps: Deps,
  eventId: string,
  ifMatch: string | undefined,
  changes: EventChanges,
): Promise<StoredEvent> {
  const current = await findEvent(deps.db.prisma, eventId);
  if (current === undefined) throw notFound('event');
  assertIfMatch(ifMatch, etagOf(current.rev));
  if (Object.keys(changes).length === 0) return current;
  const wanted: EventInput = { ...toInput(current), ...changes };
  await assertEventMakesSense(deps.db.prisma, wanted);
  const updated = await inTransaction(deps.db.prisma, async (tx) => {
    const event = await updateEvent(tx, eventId, current.rev, wanted);
    if (event !== undefined) {
      await moveEntrantTokenEnds(tx, eventId, { from: entrantTokenEnd(current), to: entrantTokenEnd(event) });
    }
    return event;
  });
  if (updated !== undefined) return updated;
  const winner = await findEvent(deps.db.prisma, eventId);
  throw stale(etagOf(winner?.rev ?? current.rev));
}

function toInput(event: StoredEvent): EventInput {
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
  };
}
