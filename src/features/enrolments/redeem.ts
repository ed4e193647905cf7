import type { Deps } from '../../deps.ts';
import { hashToken, newToken } from '../../http/auth.ts';
import { ProblemError } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { decisionTime } from '../../platform/decision-time.ts';
import { recordEventsChange } from '../../records/event-history.ts';
import type { EnrolledToken } from './schemas.ts';
import { findEnrolment, insertEnrolledToken, lockEnrolment, type StoredEnrolment } from './store.ts';

/**
 * Trades a code for its token, once. Of two devices that try at the same moment one gets it.
 *
 * @throws ProblemError `unauthenticated` (no such code; counted like any failed sign-in), `enrolment-used`,
 *   `enrolment-expired`
 */
export async function redeemEnrolment(
  deps: Deps,
  { code, requestId }: { code: string; requestId: string },
): Promise<EnrolledToken> {
  const token = newToken();
  return inTransaction(deps.db.prisma, async (tx) => {
    const codeHash = hashToken(code);
    await lockEnrolment(tx, codeHash);
    const now = await decisionTime(tx, deps.clock);
    const enrolment = await findEnrolment(tx, codeHash, now);
    if (enrolment === undefined) throw unknownCode();
    assertRedeemable(enrolment, now);
    const tokenId = await insertEnrolledToken(tx, enrolment, { hash: hashToken(token), at: now });
    const { enrolmentId, role, holder, eventIds, createdBy } = enrolment;
    // Whoever redeems a code acts as the holder whom it was made for.
    const actor = { tokenId, role, name: holder };
    const data = { enrolmentId, tokenId, role, createdBy };
    await recordEventsChange(tx, eventIds, { actor, at: now, action: 'enrolment.redeemed', data, requestId });
    return { tokenId, token, role, holder, ...(eventIds.length === 0 ? {} : { eventIds }) };
  });
}

function assertRedeemable({ used, expiresAt, makerWorks }: StoredEnrolment, now: Date): void {
  if (used) {
    const detail = 'Another device was enrolled with this code. If that was not you, have its token revoked at once.';
    throw new ProblemError('enrolment-used', detail);
  }
  if (expiresAt <= now) throw new ProblemError('enrolment-expired', `The code ended at ${expiresAt.toISOString()}.`);
  // Who was shut out must not come back by a code that he made before.
  if (!makerWorks) throw new ProblemError('enrolment-expired', 'Whoever made the code may not enrol any more.');
}

function unknownCode(): ProblemError {
  const detail = 'There is no enrolment with this code. Scan it again, or have a new one made.';
  return new ProblemError('unauthenticated', detail, {}, { 'www-authenticate': 'Bearer realm="gridworthy"' });
}
