import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { inTransaction } from '../../platform/db.ts';
import { releaseClaim } from '../../records/claims.ts';
import { recordEvent } from '../../records/history.ts';
import { claimEnded, lockClaimToRelease } from './own-claim.ts';

/**
 * Gives an own claim back, or for a chief inspector anybody's: the car keeps its place on the line. Putting back twice is
 * fine.
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
    const { claim, entry } = await lockClaimToRelease(tx, actor, claimId);
    if (claim.endReason === 'put-back') return;
    if (!(await releaseClaim(tx, claim, 'put-back'))) throw await claimEnded(tx, claim);
    const { ticketId, inspectorId } = claim;
    const data = { claimId, ticketId, ...(inspectorId === actor.tokenId ? {} : { releasedFrom: inspectorId }) };
    await recordEvent(tx, entry, { actor, at: deps.clock.now(), action: 'ticket.put-back', data, requestId });
  });
}
