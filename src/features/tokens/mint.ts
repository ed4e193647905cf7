import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { hashToken, newToken } from '../../http/auth.ts';
import { ProblemError } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { decisionTime } from '../../platform/decision-time.ts';
import { entrantTokenEnd } from '../../records/entrant-tokens.ts';
import { recordEventsChange } from '../../records/event-history.ts';
import { assertTokenEvents } from '../../records/token-events.ts';
import type { MintToken, TokenView } from './schemas.ts';
import { findTokenEntry, insertToken } from './store.ts';

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
  const { role, holder, entryId, eventIds } = input;
  const now = deps.clock.now();
  if (eventIds !== undefined) await assertTokenEvents(deps.db.prisma, eventIds, { now });
  const expiresAt = await endOf(deps, input, now);
  const token = newToken();
  const row = { role, holder, entryId, eventIds, expiresAt, hash: hashToken(token), createdBy: actor.tokenId };
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
