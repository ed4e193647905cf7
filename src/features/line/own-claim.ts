import { type Actor, reachesEvent } from '../../domain/actor.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import type { Tx } from '../../platform/db.ts';
import { type LockedEntry, lockEntry, type LockLevel } from '../../records/entry-lock.ts';
import { type ClaimState, findClaim, findOpenClaim } from './store.ts';

/**
 * Locks the entry of a claim of the actor's own and reads the claim under that lock.
 *
 * @throws ProblemError `not-found` when there is none or it is another inspector's
 */
export async function lockOwnClaim(
  tx: Tx,
  actor: Actor,
  claimId: string,
  level: LockLevel,
): Promise<{ claim: ClaimState; entry: LockedEntry }> {
  return lockClaim(tx, { claimId, level, whose: actor.tokenId });
}

/**
 * The same for giving a car free, which a chief inspector may do for another: his device may be lost.
 *
 * @throws ProblemError `not-found`
 */
export async function lockClaimToRelease(
  tx: Tx,
  actor: Actor,
  claimId: string,
): Promise<{ claim: ClaimState; entry: LockedEntry }> {
  const claim = await findClaim(tx, claimId);
  const reached = claim !== undefined && reachesEvent(actor, claim.eventId);
  const whose = actor.role === 'chief' && reached ? undefined : actor.tokenId;
  return lockClaim(tx, { claimId, level: 'entry', whose });
}

async function lockClaim(
  tx: Tx,
  { claimId, level, whose }: { claimId: string; level: LockLevel; whose: string | undefined },
): Promise<{ claim: ClaimState; entry: LockedEntry }> {
  const before = await findClaim(tx, claimId);
  const other = whose !== undefined && before?.inspectorId !== whose;
  if (before === undefined || other) throw notFound('claim of yours');
  const entry = await lockEntry(tx, before.entryId, level);
  const claim = await findClaim(tx, claimId);
  if (entry === undefined || claim === undefined) throw notFound('claim of yours');
  return { claim, entry };
}

/**
 * The refusal of a claim that is over, with who has the car now.
 */
export async function claimEnded(tx: Tx, claim: ClaimState): Promise<ProblemError> {
  const other = await findOpenClaim(tx, claim.ticketId);
  const taken = other !== undefined && other.claimId !== claim.claimId && !other.expired;
  return claimOver(claim, taken ? other.inspectorName : undefined);
}

/** The same where it is known who has the car now. */
export function claimOver({ endReason }: Pick<ClaimState, 'endReason'>, claimedBy: string | undefined): ProblemError {
  const state = endReason ?? 'expired';
  const taken = claimedBy !== undefined;
  const detail = taken ? `${claimedBy} has the car now.` : 'Renew it if it has just run out, or claim the car again.';
  return new ProblemError('state-moved-on', `This claim is over (${state}). ${detail}`, {
    currentState: state,
    ...(taken ? { claimedBy } : {}),
  });
}
