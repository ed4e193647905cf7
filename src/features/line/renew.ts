import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { inTransaction } from '../../platform/db.ts';
import { appendOutbox } from '../../platform/outbox.ts';
import { recordEvent } from '../../records/history.ts';
import { claimExpireJob } from './claim-expire.job.ts';
import { claimEnded, lockOwnClaim } from './own-claim.ts';
import { extendClaim } from './store.ts';

/**
 * Starts the lease of an own claim anew. One that has run out can be renewed as long as nobody has taken the car.
 *
 * @throws ProblemError `not-found`, `state-moved-on`
 */
export async function renewClaim(
  deps: Deps,
  actor: Actor,
  input: { claimId: string; requestId: string },
): Promise<{ claimId: string; leaseMinutes: number; expiresAt: string }> {
  const { claimId, requestId } = input;
  return inTransaction(deps.db.prisma, async (tx) => {
    const { claim, entry } = await lockOwnClaim(tx, actor, claimId, 'entry');
    const end = await extendClaim(tx, claimId);
    if (end === undefined) throw await claimEnded(tx, claim);
    const expiresAt = end.toISOString();
    const data = { claimId, expiresAt };
    await recordEvent(tx, entry, { actor, at: deps.clock.now(), action: 'claim.renewed', data, requestId });
    await appendOutbox(tx, { name: claimExpireJob.name, payload: { claimId }, runAt: end, requestId });
    return { claimId, leaseMinutes: claim.leaseSeconds / 60, expiresAt };
  });
}
