import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { inFormat } from '../../domain/history/message-formats.ts';
import { type Message, messagesOf } from '../../domain/history/webhook-messages.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { defineJob } from '../../platform/queue/job.ts';
import { WEBHOOK_FAN_OUT } from '../../records/history/seal.ts';
import { insertDelivery, listListeners, lockWebhook } from './delivery-store.ts';
import { listPublications } from './publish-store.ts';
import { orderSending } from './webhook-order-sending.ts';

const Payload = z.strictObject({ historyId: z.uuid() });

/** Makes the messages of a history row and keeps one delivery of each for every webhook that listens. */
export const webhookFanOutJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: WEBHOOK_FAN_OUT,
  payload: Payload,
  attempts: 10,
  backoffMs: 2000,
  async handle(deps, { historyId }, context) {
    const { at, publications } = await listPublications(deps.db.prisma, historyId);
    const messages = publications.flatMap(({ entry, story }) => messagesOf(entry, story));
    const [first] = publications;
    if (messages.length === 0 || first === undefined) return;
    for (const { id, types } of await listListeners(deps.db.prisma, first.entry.eventId, at)) {
      const wanted = messages.filter(({ type }) => types.includes(type));
      if (wanted.length > 0) await keep(deps, { webhookId: id, messages: wanted, requestId: context.requestId });
    }
  },
});

async function keep(
  deps: Deps,
  { webhookId, messages, requestId }: { webhookId: string; messages: readonly Message[]; requestId: string | null },
): Promise<void> {
  await inTransaction(deps.db.prisma, async (tx) => {
    const webhook = await lockWebhook(tx, webhookId);
    if (webhook === undefined || !webhook.enabled) return;
    const now = deps.clock.now();
    const made: string[] = [];
    for (const message of messages) {
      const body = inFormat(webhook.format, message, deps.config.publicUrl ?? '');
      const row = { webhookId, ...message, body, dueAt: now, createdAt: now, requestId };
      const id = await insertDelivery(tx, row);
      if (id !== undefined) made.push(id);
    }
    if (made.length > 0) await orderSending(tx, webhook, { at: now, now, requestId });
  });
}
