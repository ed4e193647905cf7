import type { FastifyInstance } from 'fastify';
import { randomBytes } from 'node:crypto';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { hashToken, newToken } from '../../http/access/auth.ts';
import { baseAddress } from '../../http/frame/error-handler.ts';
import { ProblemError } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { decisionTime } from '../../platform/clock.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { assertTokenEvents, recordEventsChange } from '../../records/history/event-history.ts';
import {
  CreateEnrolment,
  ENROLLED_EXAMPLE,
  type EnrolledRole,
  EnrolledToken,
  ENROLMENT_EXAMPLE,
  ENROLMENT_INPUT_EXAMPLE,
  EnrolmentView,
  REDEEM_EXAMPLE,
  RedeemEnrolment,
} from './schemas.ts';
import { findEnrolment, insertEnrolledToken, insertEnrolment, lockEnrolment, type StoredEnrolment } from './store.ts';

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
async function createEnrolment(
  deps: Deps,
  actor: Actor,
  { base, body, requestId }: { base: string; body: CreateEnrolment; requestId: string },
): Promise<EnrolmentView> {
  const { role, holder, personId, minutes, eventIds } = body;
  if (actor.role !== 'organizer' && !BY_CHIEF.includes(role)) {
    throw new ProblemError('forbidden', `A chief enrols ${BY_CHIEF.join('s and ')}s. Ask an organizer for ${role}.`);
  }
  const now = deps.clock.now();
  if (eventIds !== undefined) await assertTokenEvents(deps.db.prisma, eventIds, { now, reach: actor.eventIds });
  const expiresAt = new Date(now.getTime() + minutes * 60_000);
  const code = randomBytes(CODE_BYTES).toString('base64url');
  const made = { createdBy: actor.tokenId, createdAt: now, expiresAt };
  const row = { codeHash: hashToken(code), role, holder, personId, eventIds: eventIds ?? [], ...made };
  const enrolmentId = await inTransaction(deps.db.prisma, async (tx) => {
    const id = await insertEnrolment(tx, row);
    const data = { enrolmentId: id, role, expiresAt: expiresAt.toISOString() };
    await recordEventsChange(tx, row.eventIds, { actor, at: now, action: 'enrolment.created', data, requestId });
    return id;
  });
  const url = `${base}/enrol#${code}`;
  const given = { role, holder, personId, ...(eventIds === undefined ? {} : { eventIds }) };
  return { enrolmentId, code, url, ...given, expiresAt: expiresAt.toISOString() };
}

/**
 * Trades a code for its token, once. Of two devices that try at the same moment one gets it.
 *
 * @throws ProblemError `unauthenticated` (no such code; counted like any failed sign-in), `enrolment-used`,
 *   `enrolment-expired`
 */
async function redeemEnrolment(
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
    const { enrolmentId, role, holder, personId, eventIds, createdBy } = enrolment;
    // Whoever redeems a code acts as the holder whom it was made for.
    const actor = { tokenId, role, name: holder };
    const data = { enrolmentId, tokenId, role, createdBy };
    await recordEventsChange(tx, eventIds, { actor, at: now, action: 'enrolment.redeemed', data, requestId });
    return {
      tokenId,
      token,
      role,
      holder,
      personId: personId ?? undefined,
      ...(eventIds.length === 0 ? {} : { eventIds }),
    };
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

/** Enrolment: how a device of the staff gets its token without anybody typing one. */
export async function enrolmentRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/enrolments',
    neverCompressed: true,
    operationId: 'createEnrolment',
    shownOnce: true,
    summary: 'Make a one-time code for a device of the staff',
    description:
      'Show `url` as a QR code: the first device that redeems it gets a token. The code is shown in this answer only. Organizers enrol any role of the staff, chiefs inspectors and marshals, at events of their own. The token is for the events that `eventIds` names and ends the day after each. The code ends early when the token that made it is revoked.',
    tag: 'Tokens',
    access: ['organizer', 'chief'],
    body: CreateEnrolment,
    bodyExample: ENROLMENT_INPUT_EXAMPLE,
    success: { 201: { description: 'The code, shown once', schema: EnrolmentView, example: ENROLMENT_EXAMPLE } },
    problems: ['not-acceptable'],
    handle: async ({ actor, body, request }) => ({
      status: 201,
      body: await createEnrolment(deps, actor, { base: baseAddress(request), body, requestId: request.id }),
    }),
  });
  addRoute(app, {
    method: 'POST',
    path: '/enrolments/redeem',
    neverCompressed: true,
    operationId: 'redeemEnrolment',
    summary: 'Trade a one-time code for a token',
    description:
      'Needs no token. It works once; looking at an address (GET, HEAD) uses nothing up. Unknown codes count like requests without a valid token.',
    tag: 'Tokens',
    access: 'public',
    body: RedeemEnrolment,
    bodyExample: REDEEM_EXAMPLE,
    success: { 201: { description: 'The token, shown once', schema: EnrolledToken, example: ENROLLED_EXAMPLE } },
    problems: ['unauthenticated', 'enrolment-used', 'enrolment-expired'],
    handle: async ({ body, request }) => ({
      status: 201,
      body: await redeemEnrolment(deps, { code: body.code, requestId: request.id }),
    }),
  });
}
