import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { notFound, ProblemError } from '../../../http/frame/problem.ts';
import { decisionTime } from '../../../platform/clock.ts';
import { inTransaction } from '../../../platform/database/db.ts';
import { lockEvent, recordEventChange } from '../../../records/history/event-history.ts';
import { findEvent, type StoredEvent } from '../event-store.ts';
import { markCancelled } from './store.ts';

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
