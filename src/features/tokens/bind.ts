import type { Deps } from '../../deps.ts';
import { type Actor, OF_EVENTS } from '../../domain/actor.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { decisionTime } from '../../platform/decision-time.ts';
import { recordEventsChange } from '../../records/event-history.ts';
import { assertTokenEvents } from '../../records/token-events.ts';
import type { TokenView } from './schemas.ts';
import { findToken, lockToken, replaceTokenEvents } from './store.ts';

/**
 * Says which events a token of the staff is for, instead of those it was for. From the next request on it works nowhere
 * else. Doing it again is the same as once.
 *
 * @throws ProblemError `not-found`, `not-acceptable` (an event that is over or does not exist; a token that is not for
 *   events, or was revoked)
 */
export async function bindToken(
  deps: Deps,
  actor: Actor,
  { tokenId, eventIds, requestId }: { tokenId: string; eventIds: readonly string[]; requestId: string },
): Promise<TokenView> {
  return inTransaction(deps.db.prisma, async (tx) => {
    const token = await lockToken(tx, tokenId);
    if (token === undefined) throw notFound('token');
    const now = await decisionTime(tx, deps.clock);
    if (!OF_EVENTS.includes(token.role)) {
      throw new ProblemError('not-acceptable', `A token of the role ${token.role} is not for named events.`);
    }
    if (token.revoked) throw new ProblemError('not-acceptable', 'This token was revoked: mint a new one.');
    await assertTokenEvents(tx, eventIds, { now });
    const before = (await findToken(tx, tokenId, now))?.events?.map((event) => event.eventId);
    await replaceTokenEvents(tx, tokenId, eventIds);
    // Where it worked and no longer does, and where it works now; one from before worked everywhere.
    const others = [...eventIds, ...(before ?? [])].filter(
      (id) => !eventIds.includes(id) || before?.includes(id) !== true,
    );
    const data = { tokenId, role: token.role, from: before ?? null, to: eventIds };
    await recordEventsChange(tx, others, { actor, at: now, action: 'token.bound', data, requestId });
    const bound = await findToken(tx, tokenId, now);
    if (bound === undefined) throw new Error('a token that is locked cannot go away');
    return bound;
  });
}
