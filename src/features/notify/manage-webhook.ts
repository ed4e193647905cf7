import { v7 as uuidV7 } from 'uuid';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { inFormat } from '../../domain/history/webhook-messages.ts';
import { assertIfMatch, etagOf, stale } from '../../http/frame/headers.ts';
import { notAcceptable, notFound, ProblemError } from '../../http/frame/problem.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { assertEnabled, assertMayGoTo, newWebhookSecret, orderSending } from './webhook-sending.ts';
import { recordEventsChange } from '../../records/history/event-history.ts';
import { cancelPending, findDelivery, insertDelivery, lockWebhook } from './delivery-store.ts';
import type { DeliveryView, NewWebhook, RotatedSecret, WebhookChanges, WebhookView } from './webhook-schemas.ts';
import {
  countWebhooks,
  deleteWebhook,
  findWebhook,
  hasEvent,
  insertWebhook,
  lockCreation,
  type StoredWebhook,
  updateWebhook,
  lockSecrets,
  type Secret,
  updateSecrets,
} from './webhook-store.ts';

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
    const plain = JSON.stringify({ type: TEST_TYPE, timestamp: now.toISOString(), data: { webhookId } });
    const body = inFormat(webhook.format, { messageId, body: plain }, deps.config.publicUrl ?? '');
    const row = { webhookId, messageId, type: TEST_TYPE, body, dueAt: now, createdAt: now, requestId };
    const deliveryId = await insertDelivery(tx, row);
    await orderSending(tx, webhook, { at: now, now, requestId });
    const delivery = deliveryId && (await findDelivery(tx, { webhookId, deliveryId }));
    if (!delivery) throw new Error('a message with a new id was kept before');
    return delivery;
  });
}

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
  const detail = 'There is no such event.';
  return notAcceptable([{ pointer: '/eventId', code: 'unknown-event', detail, in: 'body' }]);
}

const BY_HAND = 'An organizer turned it off.';

/**
 * Changes the fields that are given. Turned off, what waits is cancelled; turned on again, it starts anew, and what
 * happened meanwhile is not told.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `not-acceptable`
 */
export async function changeWebhook(
  deps: Deps,
  actor: Actor,
  request: { webhookId: string; ifMatch: string | undefined; changes: WebhookChanges; requestId: string },
): Promise<StoredWebhook> {
  const { webhookId, ifMatch, requestId } = request;
  const { enabled, ...fields } = request.changes;
  return inTransaction(deps.db.prisma, async (tx) => {
    const locked = await lockWebhook(tx, webhookId);
    const current = locked && (await findWebhook(tx, webhookId));
    if (current === undefined) throw notFound('webhook');
    assertIfMatch(ifMatch, etagOf(current.rev));
    if (enabled === undefined && Object.keys(fields).length === 0) return current;
    if (fields.url !== undefined) assertMayGoTo(deps.config, fields.url);
    const now = deps.clock.now();
    const turns = enabled === current.view.enabled ? undefined : enabled;
    if (turns === false) await cancelPending(tx, webhookId, now);
    // Whoever changes the address or turns it on has done something about what was wrong.
    const fresh = turns === true || fields.url !== undefined ? { failures: 0, pausedUntil: null } : {};
    const updated = await updateWebhook(tx, webhookId, current.rev, { ...fields, ...fresh, ...turned(turns, now) });
    if (updated === undefined) throw stale(etagOf(current.rev));
    const data = { webhookId, ...changedFields(current.view, updated.view) };
    const what = { actor, at: now, action: 'webhook.changed', data, requestId };
    await recordEventsChange(tx, current.view.eventId === undefined ? [] : [current.view.eventId], what);
    return updated;
  });
}

/** As it was and as it is; that the address changed, and never the address: it may carry a secret of the receiver. */
function changedFields(was: WebhookView, is: WebhookView) {
  const brief = ({ types, enabled }: WebhookView) => ({ types, enabled });
  return { from: brief(was), to: brief(is), otherAddress: was.url !== is.url };
}

function turned(enabled: boolean | undefined, now: Date) {
  if (enabled === undefined) return {};
  return enabled
    ? { enabled, disabledReason: null, disabledAt: null }
    : { enabled, disabledReason: BY_HAND, disabledAt: now };
}

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

const OVERLAP_MS = 24 * 3_600_000;

/** Each adds a signature to every message. */
const MOST_SECRETS = 5;

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
    await updateSecrets(tx, webhookId, [{ secret }, ...kept].slice(0, MOST_SECRETS));
    const eventId = (await findWebhook(tx, webhookId))?.view.eventId;
    const what = { actor, at: now, action: 'webhook.secret-rotated', data: { webhookId }, requestId };
    await recordEventsChange(tx, eventId === undefined ? [] : [eventId], what);
    return { webhookId, secret, previousEndsAt };
  });
}
