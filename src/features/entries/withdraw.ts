import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { type ChangedClearance, viewClearance } from '../../http/views/clearance-view.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { lockEntryForChange, stateOf } from '../../records/locks/entry-lock.ts';
import { recordEvent } from '../../records/history/history.ts';
import { tellEntrant } from '../../records/tell-entrant.ts';
import { closeTicket } from '../../records/tickets.ts';

/**
 * Takes an entry out of the event for good: off the line, and the gate says no.
 *
 * @throws ProblemError `not-found`, `state-moved-on` (withdrawn already)
 */
export async function withdrawEntry(
  deps: Deps,
  actor: Actor,
  input: { entryId: string; reason: string | undefined; requestId: string },
): Promise<ChangedClearance> {
  const { entryId, reason, requestId } = input;
  const now = deps.clock.now();
  return inTransaction(deps.stops.prisma, async (tx) => {
    const entry = await lockEntryForChange(tx, entryId, 'change');
    await closeTicket(tx, entry, 'void', now);
    const data = reason === undefined ? {} : { reason };
    await recordEvent(tx, entry, {
      actor,
      at: now,
      action: 'entry.withdrawn',
      event: { type: 'withdrawn' },
      data,
      requestId,
    });
    await tellEntrant(tx, { entryId, kind: 'entry.withdrawn', id: entryId, requestId });
    return { entryId, carNumber: entry.carNumber, clearance: viewClearance(stateOf(entry), now) };
  });
}
