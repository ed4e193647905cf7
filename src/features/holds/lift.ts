import type { Actor } from '../../domain/actor.ts';
import { barStands } from '../../domain/clearance.ts';
import type { Deps } from '../../deps.ts';
import { viewClearance } from '../../http/clearance-view.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { inTransaction, type Tx } from '../../platform/db.ts';
import { assertNoInterest } from '../../records/conflict-of-interest.ts';
import { lockEntryForChange } from '../../records/entry-for-change.ts';
import type { LockedEntry } from '../../records/entry-lock.ts';
import { recordEvent } from '../../records/history.ts';
import { tellEntrant } from '../../records/tell-entrant.ts';
import { closeTicket, openTicket } from '../../records/tickets.ts';
import type { HoldView, LiftHold } from './schemas.ts';
import { findHold, updateLifted } from './store.ts';

/**
 * Gives a clearance back, or sends the car through the line again when that is asked for.
 *
 * @throws ProblemError `not-found`, `conflict-of-interest`, `state-moved-on` (lifted already, or withdrawn)
 */
export async function liftHold(
  deps: Deps,
  actor: Actor,
  input: { holdId: string; body: LiftHold; requestId: string },
): Promise<HoldView> {
  const { holdId, requestId } = input;
  const requiresReinspection = input.body.requireReinspection === true;
  const now = deps.clock.now();
  return inTransaction(deps.db.prisma, async (tx) => {
    const hold = await findHold(tx, holdId);
    if (hold === undefined) throw notFound('hold');
    const entry = await lockEntryForChange(tx, hold.entryId, now);
    await assertNoInterest(tx, actor, entry.entryId);
    const lifted = await updateLifted(tx, { holdId, reason: input.body.reason, requiresReinspection, actor, at: now });
    if (lifted === undefined) {
      throw new ProblemError('state-moved-on', 'This hold was lifted already.', { currentState: 'lifted' });
    }
    const event = { type: 'lifted', holdId, requiresReinspection } as const;
    await recordEvent(tx, entry, {
      actor,
      at: now,
      action: 'hold.lifted',
      event,
      data: { reason: input.body.reason },
      requestId,
    });
    if (requiresReinspection) await sendToLine(tx, entry, now);
    await tellEntrant(tx, { entryId: entry.entryId, kind: 'hold.lifted', id: holdId, requestId });
    return { ...lifted, carNumber: entry.carNumber, clearance: viewClearance(entry.facts, now) };
  });
}

/** A car that is barred, or was never declared, cannot wait on the line: it gets there by its next submission. */
async function sendToLine(tx: Tx, entry: LockedEntry, now: Date): Promise<void> {
  const { declared } = entry.facts;
  await closeTicket(tx, entry, 'void', now);
  if (declared === undefined || declared.bars.some((bar) => barStands(bar, now))) return;
  await openTicket(tx, entry, { inspectionId: declared.inspectionId, queuedAt: now });
}
