import { CLOCK_ACTOR } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { inTransaction, type Tx } from '../../platform/db.ts';
import type { Logger } from '../../platform/logger.ts';
import { type OutgoingFailure, type OutgoingOutcome, sendOutgoing } from '../../platform/outgoing-request.ts';
import { signWebhook } from '../../platform/webhook-signature.ts';
import { recordEventsChange } from '../../records/event-history.ts';
import {
  disable,
  type DueDelivery,
  findRunStart,
  insertAttempt,
  type LockedWebhook,
  lockWebhook,
  updateDelivery,
  updateHealth,
} from './delivery-store.ts';
import { TEST_TYPE } from './ping.ts';
import { outgoingPolicy } from './policy.ts';
import { isSuccess, type Plan, planAfter } from './retry-plan.ts';

/** For name, connection, sending and answer together. */
const TIMEOUT_MS = 15_000;
const ANSWER_LIMIT_BYTES = 1024;

const SAYS: Readonly<Record<OutgoingFailure, string>> = {
  'not-allowed': 'The address is not one that webhooks may go to, or its name is not known.',
  'no-answer-in-time': `There was no complete answer within ${TIMEOUT_MS / 1000} seconds.`,
  'not-connected': 'The connection was not made, or broke.',
  'tls-failed': 'The connection is not secure: the certificate was not accepted.',
  'broken-answer': 'The answer was not HTTP that can be read.',
};

interface Attempt {
  outcome: OutgoingOutcome;
  startedAt: Date;
  durationMs: number;
}

/** Sends a message once and notes what came of it. */
export async function attemptDelivery(
  deps: Deps,
  webhook: LockedWebhook,
  delivery: DueDelivery,
  log: Logger,
): Promise<void> {
  const startedAt = deps.clock.now();
  const from = performance.now();
  const outcome = await send(deps, webhook, delivery, startedAt);
  const attempt = { outcome, startedAt, durationMs: Math.round(performance.now() - from) };
  const { webhookId } = webhook;
  const disabled = await inTransaction(deps.db.prisma, async (tx) => {
    const current = await lockWebhook(tx, webhookId);
    return current && note(tx, { webhook: current, delivery, attempt, now: deps.clock.now() });
  });
  const { deliveryId, type } = delivery;
  // The address may carry a secret of the receiver, so it is not named.
  const fields = { webhookId, deliveryId, type, durationMs: attempt.durationMs };
  log.info({ ...fields, ...(outcome.kind === 'answered' ? { status: outcome.status } : outcome) }, 'webhook sent');
  if (disabled !== undefined) log.warn({ webhookId, reason: disabled }, 'webhook disabled');
}

async function send(
  deps: Deps,
  { url, secrets }: LockedWebhook,
  { messageId, body }: DueDelivery,
  at: Date,
): Promise<OutgoingOutcome> {
  const signing = secrets.filter(({ endsAt }) => endsAt === undefined || new Date(endsAt) > at);
  const signed = signWebhook(
    { id: messageId, at, body },
    signing.map(({ secret }) => secret),
  );
  const headers = { 'content-type': 'application/json', 'user-agent': 'Gridworthy-Webhooks/1', ...signed };
  const options = { policy: outgoingPolicy(deps.config), timeoutMs: TIMEOUT_MS, answerLimitBytes: ANSWER_LIMIT_BYTES };
  return sendOutgoing({ url, headers, body }, options);
}

interface Noted {
  webhook: LockedWebhook;
  delivery: DueDelivery;
  attempt: Attempt;
  now: Date;
}

/** Returns why the webhook was disabled, if it was. */
async function note(tx: Tx, noted: Noted): Promise<string | undefined> {
  const { webhook, delivery, attempt, now } = noted;
  const { webhookId } = webhook;
  const { outcome, startedAt, durationMs } = attempt;
  const succeeded = isSuccess(outcome);
  const failures = succeeded ? 0 : webhook.failures + 1;
  const tries = delivery.tries + 1;
  const once = delivery.type === TEST_TYPE;
  const plan = planAfter(outcome, { tries, failures, once, now, random: Math.random() });
  const { deliveryId } = delivery;
  await insertAttempt(tx, { deliveryId, startedAt, durationMs, ...described(outcome) });
  await updateDelivery(tx, deliveryId, succeeded ? ['pending', 'cancelled'] : ['pending'], {
    state: plan.state,
    tries,
    dueAt: plan.dueAt,
    finishedAt: plan.state === 'pending' ? null : now,
  });
  await updateHealth(tx, webhookId, {
    failures,
    pausedUntil: plan.pausedUntil,
    ...(succeeded ? { lastSuccessAt: now } : {}),
  });
  const reason = await reasonToDisable(tx, noted, plan, tries);
  if (reason !== undefined && webhook.enabled) {
    await disable(tx, webhookId, reason, now);
    // Nobody turned it off: the server did, by what the receiver answered.
    const because = plan.gone ? 'receiver-gone' : 'receiver-failed';
    const what = { actor: CLOCK_ACTOR, at: now, action: 'webhook.disabled', data: { webhookId, because } };
    await recordEventsChange(tx, webhook.eventId === null ? [] : [webhook.eventId], { ...what, requestId: undefined });
  }
  return webhook.enabled ? reason : undefined;
}

/** Gone is gone. Otherwise only a receiver that took nothing at all while one message was tried to the end. */
async function reasonToDisable(
  tx: Tx,
  { webhook, delivery, attempt }: Noted,
  plan: Plan,
  tries: number,
): Promise<string | undefined> {
  if (plan.gone) return 'The receiver answered 410 Gone.';
  if (plan.state !== 'failed' || delivery.type === TEST_TYPE) return undefined;
  const since = await findRunStart(tx, delivery.deliveryId, tries);
  if (since === undefined || (webhook.lastSuccessAt !== null && webhook.lastSuccessAt >= since)) return undefined;
  const { status, error } = described(attempt.outcome);
  return `${tries} attempts to deliver ${delivery.messageId} failed. ${error ?? `The last answer was ${status}.`}`;
}

function described(outcome: OutgoingOutcome) {
  if (outcome.kind === 'failed') return { status: null, answer: null, error: SAYS[outcome.why] };
  return { status: outcome.status, answer: outcome.answer, error: null };
}
