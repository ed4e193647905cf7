import type { Deps } from '../../deps.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { findDelivery, lockWebhook, updateDelivery } from './delivery-store.ts';
import { orderSending } from './webhook-order-sending.ts';
import type { DeliveryView } from './webhook-schemas.ts';

/**
 * Sends a finished message again, with the id and the bytes it had, and all attempts before it.
 *
 * @throws ProblemError `not-found`, `state-moved-on` when it is still being tried or the webhook is disabled
 */
export async function replayDelivery(
  deps: Deps,
  ids: { webhookId: string; deliveryId: string },
  requestId: string,
): Promise<DeliveryView> {
  const { webhookId, deliveryId } = ids;
  return inTransaction(deps.db.prisma, async (tx) => {
    const webhook = await lockWebhook(tx, webhookId);
    const delivery = webhook && (await findDelivery(tx, ids));
    if (webhook === undefined || delivery === undefined) throw notFound('delivery');
    assertEnabled(webhook);
    const { state: currentState } = delivery;
    if (currentState === 'pending') {
      throw new ProblemError('state-moved-on', 'This message is still being tried.', { currentState });
    }
    const now = deps.clock.now();
    await updateDelivery(tx, deliveryId, [currentState], { state: 'pending', tries: 0, dueAt: now, finishedAt: null });
    await orderSending(tx, webhook, { at: now, now, requestId });
    const replayed = await findDelivery(tx, ids);
    if (replayed === undefined) throw notFound('delivery');
    return replayed;
  });
}

/** @throws ProblemError `state-moved-on` when nothing is sent to this webhook */
export function assertEnabled({ enabled }: { enabled: boolean }): void {
  if (enabled) return;
  throw new ProblemError('state-moved-on', 'The webhook is disabled. Enable it first.', { currentState: 'disabled' });
}
