import { createHmac, randomBytes } from 'node:crypto';
import type { Config } from '../../config.ts';
import type { Deps } from '../../deps.ts';
import { notAcceptable, notFound, ProblemError } from '../../http/frame/problem.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import {
  destinationFault,
  type OutgoingPolicy,
  parseAllowList,
  PUBLIC_ONLY,
} from '../../platform/outgoing/outgoing-request.ts';
import { appendOutbox } from '../../platform/queue/outbox.ts';
import { findDelivery, type LockedWebhook, lockWebhook, updateDelivery, updateWakeAt } from './delivery-store.ts';
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

/** Where webhooks may go: the public internet, and what the configuration names. */
export function outgoingPolicy({ webhookAllow }: Pick<Config, 'webhookAllow'>): OutgoingPolicy {
  return parseAllowList(webhookAllow.join(',')) ?? PUBLIC_ONLY;
}

/** @throws ProblemError `not-acceptable` when the text of the address shows already that nothing may be sent there */
export function assertMayGoTo(config: Pick<Config, 'webhookAllow'>, url: string): void {
  const fault = destinationFault(url, outgoingPolicy(config));
  if (fault === undefined) return;
  const detail = `The address ${fault}.`;
  throw notAcceptable([{ pointer: '/url', code: 'address-not-allowed', detail, in: 'body' }]);
}

const PREFIX = 'whsec_';
const SECRET_BYTES = 32;

/** A new secret, as Standard Webhooks 1.0 writes it: `whsec_` and base64 of 24 to 64 random bytes, here 32. */
export function newWebhookSecret(): string {
  return PREFIX + randomBytes(SECRET_BYTES).toString('base64');
}

/**
 * The headers that prove who sent a message and when (Standard Webhooks 1.0, scheme v1: HMAC-SHA256 over
 * `id.timestamp.body`). Each secret gives one signature, so a receiver that knows any of them can check it.
 *
 * @param message `id` holds no dot; `at` is the instant of this attempt; `body` exactly what is sent
 */
export function signWebhook(
  message: { id: string; at: Date; body: string },
  secrets: readonly string[],
): Record<'webhook-id' | 'webhook-timestamp' | 'webhook-signature', string> {
  if (message.id.includes('.')) throw new Error('a dot in the id would let two messages have one signature');
  const timestamp = String(Math.floor(message.at.getTime() / 1000));
  const signed = `${message.id}.${timestamp}.${message.body}`;
  const signatures = secrets.map((secret) => {
    const key = Buffer.from(secret.slice(PREFIX.length), 'base64');
    return `v1,${createHmac('sha256', key).update(signed).digest('base64')}`;
  });
  return { 'webhook-id': message.id, 'webhook-timestamp': timestamp, 'webhook-signature': signatures.join(' ') };
}
