import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { inFormat, type Message, messagesOf } from '../../domain/history/webhook-messages.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { defineJob } from '../../platform/queue/job.ts';
import { WEBHOOK_FAN_OUT } from '../../records/history/seal.ts';
import { attemptDelivery } from './webhook-attempt.ts';
import {
  countFailingBusy,
  type DueDelivery,
  findDue,
  findNextDue,
  insertDelivery,
  listListeners,
  type LockedWebhook,
  lockWebhook,
  updateBusy,
  updateWakeAt,
} from './delivery-store.ts';
import { listPublications } from './publish-store.ts';
import { orderSending, WEBHOOK_DELIVER } from './webhook-sending.ts';

const Payload = z.strictObject({ webhookId: z.uuid(), wakeAt: z.iso.datetime() });
type Payload = z.infer<typeof Payload>;

/** Longer than one attempt with all around it; a worker that dies holds the webhook up for no longer. */
const LEASE_S = 60;
/** How long one job goes on sending; then the others in the queue have their turn. */
const TURN_MS = 5000;
/** How many receivers that failed last time may have a worker at once: the others are for what works. */
const MOST_FAILING = 4;
const STAND_BACK_MS = 15_000;

/**
 * Sends what is due to one webhook, one message after the other. One worker sends to a webhook at a time, and one job
 * only for a short turn; of receivers that failed last time only a few are tried at once. So a receiver that is slow
 * holds up its own messages and no others.
 */
export const webhookDeliverJob = defineJob<Deps, Payload>({
  name: WEBHOOK_DELIVER,
  payload: Payload,
  attempts: 10,
  backoffMs: 2000,
  async handle(deps, payload, context) {
    const endsAt = performance.now() + TURN_MS;
    let next = await inTransaction(deps.db.prisma, (tx) => begin(tx, deps, payload));
    while (next !== undefined) {
      await attemptDelivery(deps, next.webhook, next.delivery, context.log);
      const goesOn = performance.now() < endsAt;
      next = await inTransaction(deps.db.prisma, async (tx) => {
        const webhook = await lockWebhook(tx, payload.webhookId);
        return webhook && takeNext(tx, deps, webhook, goesOn);
      });
    }
  },
});

interface Next {
  webhook: LockedWebhook;
  delivery: DueDelivery;
}

async function begin(tx: Tx, deps: Deps, { webhookId, wakeAt }: Payload): Promise<Next | undefined> {
  const webhook = await lockWebhook(tx, webhookId);
  if (webhook === undefined) return undefined;
  if (webhook.wakeAt?.toISOString() === wakeAt) {
    await updateWakeAt(tx, webhookId, null);
    webhook.wakeAt = null;
  }
  const now = deps.clock.now();
  if (webhook.busyUntil !== null) {
    // Whoever is sending looks again before it ends; this is for the case that it never does.
    await orderSending(tx, webhook, { at: webhook.busyUntil, now });
    return undefined;
  }
  if (webhook.failures > 0 && (await countFailingBusy(tx)) >= MOST_FAILING) {
    await orderSending(tx, webhook, { at: new Date(now.getTime() + STAND_BACK_MS), now });
    return undefined;
  }
  return takeNext(tx, deps, webhook, true);
}

/** The next message, with the right to send it; or the right is given back and the job for what is due later ordered. */
async function takeNext(tx: Tx, deps: Deps, webhook: LockedWebhook, goesOn: boolean): Promise<Next | undefined> {
  const { webhookId, enabled, pausedUntil } = webhook;
  const now = deps.clock.now();
  const isPaused = pausedUntil !== null && pausedUntil > now;
  const delivery = enabled && goesOn && !isPaused ? await findDue(tx, webhookId, now) : undefined;
  await updateBusy(tx, webhookId, delivery === undefined ? 0 : LEASE_S);
  if (delivery !== undefined) return { webhook, delivery };
  const due = enabled ? await findNextDue(tx, webhookId) : undefined;
  if (due !== undefined) await orderSending(tx, webhook, { at: latest(due, now, isPaused ? pausedUntil : now), now });
  return undefined;
}

function latest(...instants: readonly Date[]): Date {
  return new Date(Math.max(...instants.map((instant) => instant.getTime())));
}

const FanOutPayload = z.strictObject({ historyId: z.uuid() });

/** Makes the messages of a history row and keeps one delivery of each for every webhook that listens. */
export const webhookFanOutJob = defineJob<Deps, z.infer<typeof FanOutPayload>>({
  name: WEBHOOK_FAN_OUT,
  payload: FanOutPayload,
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
