import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { decisionTime } from '../../platform/decision-time.ts';
import { releaseClaimsOf } from '../../records/claims.ts';
import { recordEventsChange } from '../../records/event-history.ts';
import { findToken, lockLastingOrganizers, updateRevoked } from './store.ts';

/**
 * Revokes a token; from the next request on it is unknown, and cars that it holds at the line wait again.
 * Revoking twice is the same as once.
 *
 * @throws ProblemError `not-found`, `last-organizer-token` when nobody could administer the server afterwards
 */
export async function revokeToken(
  deps: Deps,
  actor: Actor,
  { tokenId, requestId }: { tokenId: string; requestId: string },
): Promise<void> {
  await inTransaction(deps.db.prisma, async (tx) => {
    const lasting = await lockLastingOrganizers(tx);
    const now = await decisionTime(tx, deps.clock);
    const token = await findToken(tx, tokenId, now);
    if (token === undefined) throw notFound('token');
    if (lasting.length === 1 && lasting[0] === token.tokenId) {
      throw new ProblemError('last-organizer-token', 'This is the only organizer token that works without an end.');
    }
    await updateRevoked(tx, tokenId, now);
    await releaseClaimsOf(tx, tokenId, { actor, at: now, requestId });
    if (token.revoked) return;
    const live = token.events?.filter(({ endsAt }) => Date.parse(endsAt) > now.getTime()) ?? [];
    const what = { actor, at: now, action: 'token.revoked', data: { tokenId, role: token.role }, requestId };
    await recordEventsChange(
      tx,
      live.map(({ eventId }) => eventId),
      what,
    );
  });
}
