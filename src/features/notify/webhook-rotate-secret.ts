import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/frame/problem.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { newWebhookSecret } from '../../platform/outgoing/webhook-signature.ts';
import { recordEventsChange } from '../../records/history/event-history.ts';
import type { RotatedSecret } from './webhook-schemas.ts';
import { findWebhook, lockSecrets, type Secret, updateSecrets } from './webhook-store.ts';

const OVERLAP_MS = 24 * 3_600_000;
/** Each adds a signature to every message. */
const MOST = 5;

/**
 * Gives a webhook a new secret. The ones before sign as well for 24 hours, so the receiver can change over meanwhile;
 * of many at once the oldest end early.
 *
 * @throws ProblemError `not-found`
 */
export async function rotateSecret(
  deps: Deps,
  actor: Actor,
  { webhookId, requestId }: { webhookId: string; requestId: string },
): Promise<RotatedSecret> {
  const secret = newWebhookSecret();
  return inTransaction(deps.db.prisma, async (tx) => {
    const secrets = await lockSecrets(tx, webhookId);
    if (secrets === undefined) throw notFound('webhook');
    const now = deps.clock.now();
    const previousEndsAt = new Date(now.getTime() + OVERLAP_MS).toISOString();
    const kept = secrets
      .map((one): Secret => ({ secret: one.secret, endsAt: one.endsAt ?? previousEndsAt }))
      .filter(({ endsAt }) => endsAt !== undefined && new Date(endsAt) > now);
    await updateSecrets(tx, webhookId, [{ secret }, ...kept].slice(0, MOST));
    const eventId = (await findWebhook(tx, webhookId))?.view.eventId;
    const what = { actor, at: now, action: 'webhook.secret-rotated', data: { webhookId }, requestId };
    await recordEventsChange(tx, eventId === undefined ? [] : [eventId], what);
    return { webhookId, secret, previousEndsAt };
  });
}
