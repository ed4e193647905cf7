import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { type ChangedClearance, viewClearance } from '../../http/clearance-view.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { assertNoInterest } from '../../records/conflict-of-interest.ts';
import { lockEntryForChange } from '../../records/entry-for-change.ts';
import { stateOf } from '../../records/entry-lock.ts';
import { recordCarEvent, recordEvent } from '../../records/history.ts';
import { findConditionEntry, updateDone } from './store.ts';

/**
 * Notes that a condition of the sign-off is met. A car that was held because the condition was past due is clear again.
 *
 * @throws ProblemError `not-found`, `conflict-of-interest`, `state-moved-on` (done already, of an older sign-off, or
 *   the entry was withdrawn)
 */
export async function completeCondition(
  deps: Deps,
  actor: Actor,
  input: { entryId: string; conditionId: string; note: string | undefined; requestId: string },
): Promise<ChangedClearance> {
  const { entryId, conditionId, note, requestId } = input;
  const now = deps.clock.now();
  return inTransaction(deps.db.prisma, async (tx) => {
    const entry = await lockEntryForChange(tx, entryId, 'change');
    if ((await findConditionEntry(tx, conditionId)) !== entryId) throw notFound('condition');
    await assertNoInterest(tx, actor, entryId);
    const open = entry.facts.conditions.some((condition) => condition.id === conditionId);
    if (!open || !(await updateDone(tx, { conditionId, note, actor, at: now }))) {
      throw new ProblemError('state-moved-on', 'This condition is not open any more.', { currentState: 'closed' });
    }
    const event = { type: 'condition-done', conditionId } as const;
    const ofCar = { type: 'car-condition-done', conditionId } as const;
    await recordCarEvent(tx, entry.car, { actor, at: now, action: 'car.condition-done', event: ofCar, requestId });
    await recordEvent(tx, entry, { actor, at: now, action: 'condition.done', event, requestId });
    return { entryId, carNumber: entry.carNumber, clearance: viewClearance(stateOf(entry), now) };
  });
}
