import type { Deps } from '../../deps.ts';
import { type Actor, OF_EVENTS } from '../../domain/actor.ts';
import { hashToken, newToken } from '../../http/access/auth.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { decisionTime } from '../../platform/clock.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { assertTokenEvents, recordEventsChange } from '../../records/history/event-history.ts';
import { entrantTokenEnd } from '../../records/notify-entrant.ts';
import { releaseClaimsOf } from '../../records/tickets.ts';
import type { MintToken, TokenView } from './token-schemas.ts';
import {
  findToken,
  findTokenEntry,
  insertToken,
  lockLastingOrganizers,
  lockToken,
  replaceTokenEvents,
  updateRevoked,
} from './token-store.ts';

const DAY_MS = 86_400_000;
/** A token that was asked for is of use for as long, also when the event is over. */
const LEAST_DAYS = 7;

/**
 * Makes a token. Only its hash is stored, so this answer is the one time it can be read.
 *
 * @throws ProblemError `not-acceptable` when the entry or an event does not exist, its person was erased, or the token
 *   would have ended already
 */
export async function mintToken(
  deps: Deps,
  actor: Actor,
  { input, requestId }: { input: MintToken; requestId: string },
): Promise<TokenView & { token: string }> {
  const { role, holder, personId, entryId, eventIds } = input;
  const now = deps.clock.now();
  if (eventIds !== undefined) await assertTokenEvents(deps.db.prisma, eventIds, { now });
  const expiresAt = await endOf(deps, input, now);
  const token = newToken();
  const row = {
    role,
    holder,
    personId,
    entryId,
    eventIds,
    expiresAt,
    hash: hashToken(token),
    createdBy: actor.tokenId,
  };
  const minted = await inTransaction(deps.db.prisma, async (tx) => {
    const view = await insertToken(tx, row, now);
    const data = { tokenId: view.tokenId, role, ...(view.endsAt === undefined ? {} : { endsAt: view.endsAt }) };
    const at = await decisionTime(tx, deps.clock);
    await recordEventsChange(tx, eventIds ?? [], { actor, at, action: 'token.minted', data, requestId });
    return view;
  });
  return { ...minted, token };
}

async function endOf(deps: Deps, { entryId, expiresAt }: MintToken, now: Date): Promise<Date | undefined> {
  const chosen = expiresAt === undefined ? undefined : new Date(expiresAt);
  if (chosen !== undefined && chosen <= now) throw refused('/expiresAt', 'past', 'This instant is over.');
  if (entryId === undefined) return chosen;
  const entry = await findTokenEntry(deps.db.prisma, entryId);
  if (entry === undefined) throw refused('/entryId', 'unknown-entry', 'There is no such entry.');
  if (entry.erased) throw refused('/entryId', 'erased-entry', 'The personal data of this entry was erased.');
  return chosen ?? new Date(Math.max(entrantTokenEnd(entry).getTime(), now.getTime() + LEAST_DAYS * DAY_MS));
}

function refused(pointer: string, code: string, detail: string): ProblemError {
  return new ProblemError('not-acceptable', `${pointer}: ${detail}`, {
    errors: [{ pointer, code, detail, in: 'body' }],
  });
}

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
