import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { ProblemError } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { newWebhookSecret } from '../../platform/webhook-signature.ts';
import { recordEventsChange } from '../../records/event-history.ts';
import { assertMayGoTo } from './policy.ts';
import type { NewWebhook } from './schemas.ts';
import { countWebhooks, hasEvent, insertWebhook, lockCreation, type StoredWebhook } from './store.ts';

/** Each may hold one worker for the length of a time limit. */
const MOST = 20;

/**
 * Keeps a webhook. Its secret is in this answer and in none after it.
 *
 * @throws ProblemError `not-acceptable` (no such event, an address that is not allowed), `too-many-webhooks`
 */
export async function createWebhook(
  deps: Deps,
  actor: Actor,
  { input, requestId }: { input: NewWebhook; requestId: string },
): Promise<StoredWebhook & { secret: string }> {
  assertMayGoTo(deps.config, input.url);
  const secret = newWebhookSecret();
  const stored = await inTransaction(deps.db.prisma, async (tx) => {
    if (input.eventId !== undefined && !(await hasEvent(tx, input.eventId))) throw unknownEvent();
    await lockCreation(tx);
    if ((await countWebhooks(tx)) >= MOST) throw new ProblemError('too-many-webhooks', `There may be ${MOST}.`);
    const createdAt = deps.clock.now();
    const made = await insertWebhook(tx, { ...input, secrets: [{ secret }], createdBy: actor.tokenId, createdAt });
    // Never the address: it may carry a secret of the receiver.
    const data = { webhookId: made.view.webhookId, types: input.types };
    const what = { actor, at: createdAt, action: 'webhook.created', data, requestId };
    await recordEventsChange(tx, input.eventId === undefined ? [] : [input.eventId], what);
    return made;
  });
  return { ...stored, secret };
}

function unknownEvent(): ProblemError {
  const error = { pointer: '/eventId', code: 'unknown-event', detail: 'There is no such event.', in: 'body' };
  return new ProblemError('not-acceptable', `/eventId: ${error.detail}`, { errors: [error] });
}
