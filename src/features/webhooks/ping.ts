import { v7 as uuidV7 } from 'uuid';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { findDelivery, insertDelivery, lockWebhook } from './delivery-store.ts';
import { orderSending } from './order-sending.ts';
import { assertEnabled } from './replay.ts';
import type { DeliveryView } from './schemas.ts';

/** Nobody subscribes to it; it is tried once, whatever comes of it. */
export const TEST_TYPE = 'webhook.test';

/**
 * Sends a message that means nothing, to see whether the receiver takes it.
 *
 * @throws ProblemError `not-found`, `state-moved-on` when the webhook is disabled
 */
export async function pingWebhook(deps: Deps, webhookId: string, requestId: string): Promise<DeliveryView> {
  return inTransaction(deps.db.prisma, async (tx) => {
    const webhook = await lockWebhook(tx, webhookId);
    if (webhook === undefined) throw notFound('webhook');
    assertEnabled(webhook);
    const now = deps.clock.now();
    const messageId = `msg_${uuidV7().replaceAll('-', '')}`;
    const body = JSON.stringify({ type: TEST_TYPE, timestamp: now.toISOString(), data: { webhookId } });
    const row = { webhookId, messageId, type: TEST_TYPE, body, dueAt: now, createdAt: now, requestId };
    const deliveryId = await insertDelivery(tx, row);
    await orderSending(tx, webhook, { at: now, now, requestId });
    const delivery = deliveryId && (await findDelivery(tx, { webhookId, deliveryId }));
    if (!delivery) throw new Error('a message with a new id was kept before');
    return delivery;
  });
}
