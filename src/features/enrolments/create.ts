import { randomBytes } from 'node:crypto';
import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { hashToken } from '../../http/auth.ts';
import { ProblemError } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { recordEventsChange } from '../../records/event-history.ts';
import { assertTokenEvents } from '../../records/token-events.ts';
import type { CreateEnrolment, EnrolledRole, EnrolmentView } from './schemas.ts';
import { insertEnrolment } from './store.ts';

const CODE_BYTES = 16;
/** Whom a chief may let in: those who work under him. */
const BY_CHIEF: readonly EnrolledRole[] = ['inspector', 'marshal'];

/**
 * Makes a one-time code for a device. Only its hash is stored, so this answer is the one time it can be read.
 *
 * @param base address of this server, without a slash at its end
 * @throws ProblemError `forbidden` when a chief asks for another role than inspector or marshal; `not-acceptable` for
 *   an event that is over, does not exist, or is not the chief's
 */
export async function createEnrolment(
  deps: Deps,
  actor: Actor,
  { base, body, requestId }: { base: string; body: CreateEnrolment; requestId: string },
): Promise<EnrolmentView> {
  const { role, holder, minutes, eventIds } = body;
  if (actor.role !== 'organizer' && !BY_CHIEF.includes(role)) {
    throw new ProblemError('forbidden', `A chief enrols ${BY_CHIEF.join('s and ')}s. Ask an organizer for ${role}.`);
  }
  const now = deps.clock.now();
  if (eventIds !== undefined) await assertTokenEvents(deps.db.prisma, eventIds, { now, reach: actor.eventIds });
  const expiresAt = new Date(now.getTime() + minutes * 60_000);
  const code = randomBytes(CODE_BYTES).toString('base64url');
  const made = { createdBy: actor.tokenId, createdAt: now, expiresAt };
  const row = { codeHash: hashToken(code), role, holder, eventIds: eventIds ?? [], ...made };
  const enrolmentId = await inTransaction(deps.db.prisma, async (tx) => {
    const id = await insertEnrolment(tx, row);
    const data = { enrolmentId: id, role, expiresAt: expiresAt.toISOString() };
    await recordEventsChange(tx, row.eventIds, { actor, at: now, action: 'enrolment.created', data, requestId });
    return id;
  });
  const url = `${base}/enrol#${code}`;
  const given = { role, holder, ...(eventIds === undefined ? {} : { eventIds }) };
  return { enrolmentId, code, url, ...given, expiresAt: expiresAt.toISOString() };
}
