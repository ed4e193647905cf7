import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { recordEventsChange } from '../../records/event-history.ts';
import { lockWebhook } from './delivery-store.ts';
import { deleteWebhook, findWebhook } from './store.ts';

/**
 * Removes a webhook with its deliveries.
 *
 * @throws ProblemError `not-found`
 */
export async function removeWebhook(
  deps: Deps,
  actor: Actor,
  { webhookId, requestId }: { webhookId: string; requestId: string },
): Promise<void> {
  await inTransaction(deps.db.prisma, async (tx) => {
    const locked = await lockWebhook(tx, webhookId);
    const current = locked && (await findWebhook(tx, webhookId));
    if (current === undefined || !(await deleteWebhook(tx, webhookId))) throw notFound('webhook');
    const { eventId, types } = current.view;
    const data = { webhookId, types };
    const what = { actor, at: deps.clock.now(), action: 'webhook.deleted', data, requestId };
    await recordEventsChange(tx, eventId === undefined ? [] : [eventId], what);
  });
}
