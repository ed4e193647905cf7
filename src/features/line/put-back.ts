import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { inTransaction } from '../../platform/db.ts';
import { recordEvent } from '../../records/history.ts';
import { claimEnded, lockOwnClaim } from './own-claim.ts';
import { releaseClaim } from './store.ts';

/**
 * Gives an own claim back: the car keeps its place on the line. Putting back twice is fine.
 *
 * @throws ProblemError `not-found`, `state-moved-on` when the claim ended in another way
 */
export async function putBackClaim(
  deps: Deps,
  actor: Actor,
  input: { claimId: string; requestId: string },
): Promise<void> {
  const { claimId, requestId } = input;
  await inTransaction(deps.db.prisma, async (tx) => {
    const { claim, entry } = await lockOwnClaim(tx, actor, claimId, 'entry');
    if (claim.endReason === 'put-back') return;
    if (!(await releaseClaim(tx, claim, 'put-back'))) throw await claimEnded(tx, claim);
    const data = { claimId, ticketId: claim.ticketId };
    await recordEvent(tx, entry, { actor, at: deps.clock.now(), action: 'ticket.put-back', data, requestId });
  });
}
