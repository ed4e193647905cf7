import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { notFound, ProblemError } from '../../../http/frame/problem.ts';
import { decisionTime } from '../../../platform/clock.ts';
import { inTransaction } from '../../../platform/database/db.ts';
import { lockEvent, recordEventChange } from '../../../records/history/event-history.ts';
import { findEvent, findVenue, listEventIds, lockVenue, type StoredEvent } from '../event-store.ts';
import { findRunGroup } from '../run-group-store.ts';
import {
  countSubmissions,
  deleteRunGroup,
  deleteVenue,
  insertDeletion,
  listGroupNumbers,
  lockWholeEvent,
  markCancelled,
  treeOf,
  wipeEvent,
} from './store.ts';

/**
 * Deletes an event that was made by mistake, with all that belongs to it: run groups, entries, links, what entrants saved
 * and have not submitted. One row stays that says so. From the first submission on it can only be cancelled.
 *
 * @throws ProblemError `not-found`, `in-use` once anything was submitted
 */
export async function deleteEvent(deps: Deps, actor: Actor, eventId: string): Promise<void> {
  await inTransaction(deps.db.prisma, async (tx) => {
    await lockWholeEvent(tx, eventId);
    const event = await findEvent(tx, eventId);
    if (event === undefined) throw notFound('event');
    const submissions = await countSubmissions(tx, eventId);
    if (submissions > 0) {
      const detail = `${submissions} declarations were submitted for this event, so it stays on record. Cancel it instead.`;
      const operation = `POST /v1/events/${eventId}/cancel`;
      throw new ProblemError('in-use', detail, {
        uses: { submissions },
        wayOut: { words: 'An organizer can cancel it, with the reason.', operation, roles: ['organizer'] },
      });
    }
    const at = await decisionTime(tx, deps.clock);
    const tree = await treeOf(tx, eventId);
    const gone = await wipeEvent(tx, eventId, at);
    await insertDeletion(tx, {
      kind: 'event',
      subjectId: eventId,
      name: event.name,
      what: { ...gone, ...tree },
      actor,
      at,
    });
  });
}

/**
 * Deletes a run group that nobody is entered in.
 *
 * @throws ProblemError `not-found`, `in-use` with the numbers that are entered in it
 */
export async function deleteGroup(
  deps: Deps,
  actor: Actor,
  { eventId, runGroupId, requestId }: { eventId: string; runGroupId: string; requestId: string },
): Promise<void> {
  await inTransaction(deps.db.prisma, async (tx) => {
    const locked = await lockEvent(tx, eventId);
    const group = locked && (await findRunGroup(tx, eventId, runGroupId));
    if (locked === undefined || group === undefined) throw notFound('run group');
    const numbers = await listGroupNumbers(tx, runGroupId);
    if (numbers.length > 0) {
      const named = numbers.slice(0, 10).join(', ');
      const more = numbers.length > 10 ? ` and ${numbers.length - 10} more` : '';
      const detail = `Cars are entered in ${group.name}: ${named}${more}. Move them to another group first.`;
      throw new ProblemError('in-use', detail, { uses: { entries: numbers.length } });
    }
    const at = await decisionTime(tx, deps.clock);
    await deleteRunGroup(tx, runGroupId);
    const data = { runGroupId, name: group.name };
    await recordEventChange(tx, locked, { actor, at, action: 'run-group.deleted', data, requestId });
    await insertDeletion(tx, {
      kind: 'run-group',
      subjectId: runGroupId,
      name: group.name,
      what: { eventId },
      actor,
      at,
    });
  });
}

/**
 * Deletes a venue at which no event is, with what it changes in rule sets.
 *
 * @throws ProblemError `not-found`, `in-use`
 */
export async function deleteUnusedVenue(deps: Deps, actor: Actor, venueId: string): Promise<void> {
  await inTransaction(deps.db.prisma, async (tx) => {
    const venue = (await lockVenue(tx, venueId)) ? await findVenue(tx, venueId) : undefined;
    if (venue === undefined) throw notFound('venue');
    const { length: events } = await listEventIds(tx, venueId);
    if (events > 0) {
      throw new ProblemError('in-use', `${events} events are at this venue.`, { uses: { events } });
    }
    const at = await decisionTime(tx, deps.clock);
    await deleteVenue(tx, venueId);
    await insertDeletion(tx, { kind: 'venue', subjectId: venueId, name: venue.view.name, what: {}, actor, at });
  });
}

interface CancelRequest {
  eventId: string;
  reason: string;
  requestId: string;
}

/**
 * Calls an event off. From then on the gate admits nobody, whatever was signed off, and nothing more is declared. What was
 * written stays as it is. It is not taken back: a car that went home must not be waited for by a device that slept.
 *
 * @throws ProblemError `not-found`, `state-moved-on` when it is cancelled already
 */
export async function cancelEvent(deps: Deps, actor: Actor, request: CancelRequest): Promise<StoredEvent> {
  const { eventId, reason, requestId } = request;
  return inTransaction(deps.db.prisma, async (tx) => {
    const locked = await lockEvent(tx, eventId);
    const current = locked && (await findEvent(tx, eventId));
    if (locked === undefined || current === undefined) throw notFound('event');
    if (current.cancelled !== undefined) {
      const { at, by } = current.cancelled;
      throw new ProblemError('state-moved-on', `${by} cancelled this event at ${at.toISOString()}.`, {
        currentState: 'cancelled',
      });
    }
    const at = await decisionTime(tx, deps.clock);
    await markCancelled(tx, eventId, { actor, at, reason });
    await recordEventChange(tx, locked, { actor, at, action: 'event.cancelled', data: { reason }, requestId });
    const cancelled = await findEvent(tx, eventId);
    if (cancelled === undefined) throw notFound('event');
    return cancelled;
  });
}
