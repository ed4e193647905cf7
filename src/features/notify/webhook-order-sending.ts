import type { Tx } from '../../platform/database/db.ts';
import { appendOutbox } from '../../platform/queue/outbox.ts';
import { type LockedWebhook, updateWakeAt } from './delivery-store.ts';

/** Name of the job that sends what is due to one webhook. */
export const WEBHOOK_DELIVER = 'webhook.deliver';

/**
 * Orders the job that sends to a locked webhook at an instant, unless one is ordered that comes sooner. In the
 * transaction of what makes it due: a queue that loses the job makes it late, the outbox gives it again.
 */
export async function orderSending(
  tx: Tx,
  webhook: LockedWebhook,
  { at, now, requestId = null }: { at: Date; now: Date; requestId?: string | null },
): Promise<void> {
  const { webhookId, wakeAt } = webhook;
  if (wakeAt !== null && wakeAt > now && wakeAt <= at) return;
  await updateWakeAt(tx, webhookId, at);
  webhook.wakeAt = at;
  const payload = { webhookId, wakeAt: at.toISOString() };
  await appendOutbox(tx, { name: WEBHOOK_DELIVER, payload, ...(at > now ? { runAt: at } : {}), requestId });
}
