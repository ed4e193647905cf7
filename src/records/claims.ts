import type { Actor } from '../domain/actor.ts';
import type { Tx } from '../platform/db.ts';
import { lockEntries } from './entry-lock.ts';
import { recordEvent } from './history.ts';

/** Ends an open claim and puts its ticket back in its place; returns whether the claim was open. */
export async function releaseClaim(
  tx: Tx,
  claim: { claimId: string; ticketId: string },
  reason: 'put-back' | 'expired',
): Promise<boolean> {
  const ended = await tx.$executeRaw`
    UPDATE claims SET ended_at = now(), end_reason = ${reason}
    WHERE id = ${claim.claimId}::uuid AND ended_at IS NULL AND (${reason} <> 'expired' OR expires_at <= now())`;
  if (ended === 0) return false;
  await tx.ticket.updateMany({ where: { id: claim.ticketId, state: 'claimed' }, data: { state: 'waiting' } });
  return true;
}

/** Puts back every car that a token holds: whoever had it works here no more. */
export async function releaseClaimsOf(
  tx: Tx,
  tokenId: string,
  why: { actor: Actor; at: Date; requestId: string },
): Promise<void> {
  const claims = await tx.$queryRaw<{ claimId: string; ticketId: string; entryId: string }[]>`
    SELECT k.id AS "claimId", k.ticket_id AS "ticketId", t.entry_id AS "entryId"
    FROM claims k JOIN tickets t ON t.id = k.ticket_id
    WHERE k.inspector_id = ${tokenId}::uuid AND k.ended_at IS NULL ORDER BY t.entry_id`;
  const entries = await lockEntries(
    tx,
    claims.map(({ entryId }) => entryId),
    'entry',
  );
  for (const { claimId, ticketId, entryId } of claims) {
    const entry = entries.find((one) => one.entryId === entryId);
    if (entry === undefined || !(await releaseClaim(tx, { claimId, ticketId }, 'put-back'))) continue;
    const data = { claimId, ticketId, releasedFrom: tokenId, because: 'token-revoked' };
    await recordEvent(tx, entry, { ...why, action: 'ticket.put-back', data });
  }
}
