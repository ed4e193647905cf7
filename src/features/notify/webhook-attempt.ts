import type { Deps } from '../../deps.ts';
import { SYSTEM_ACTOR } from '../../domain/actor.ts';
import { FORMAT_TYPES } from '../../domain/history/webhook-messages.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { asSpan, currentTrace } from '../../platform/telemetry/trace.ts';
import type { Logger } from '../../platform/logger.ts';
import { type OutgoingFailure, type OutgoingOutcome, sendOutgoing } from '../../platform/outgoing/outgoing-request.ts';
import { outgoingPolicy, signWebhook } from './webhook-sending.ts';
import { recordEventsChange } from '../../records/history/event-history.ts';
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
import { TEST_TYPE } from './manage-webhook.ts';

const SECOND_MS = 1000;
const MINUTE_S = 60;
const HOUR_S = 3600;
/** Waits after the first, second … failed attempt, in seconds: the schedule that Standard Webhooks 1.0 recommends. */
export const RETRY_DELAYS_S: readonly number[] = [
  5,
  5 * MINUTE_S,
  30 * MINUTE_S,
  2 * HOUR_S,
  5 * HOUR_S,
  10 * HOUR_S,
  14 * HOUR_S,
  20 * HOUR_S,
  24 * HOUR_S,
];
const JITTER = 0.1;
const GONE = 410;
/** "Too many requests", "bad gateway", "gateway timeout": the receiver wants less of it. */
const SLOW_DOWN = new Set([429, 502, 504]);
const SLOW_S = MINUTE_S;
const LONGEST_PAUSE_S = HOUR_S;
const UNANSWERED_S = 30;
const LONGEST_UNANSWERED_S = 5 * MINUTE_S;

interface Plan {
  state: 'delivered' | 'pending' | 'failed';
  /** when it is tried again; only while it is pending */
  dueAt?: Date;
  /** nothing is sent to this receiver before */
  pausedUntil: Date | null;
  /** the receiver said that it is gone, which no repeat changes */
  gone: boolean;
}

/**
 * What follows from an attempt. Only 2xx is success; a redirect is a failure like any other.
 *
 * @param context `tries` counts this attempt; `failures` those in a row on this webhook, with this one if it failed;
 *   `once`: there is no second attempt; `random` from 0 to 1
 */
export function planAfter(
  outcome: OutgoingOutcome,
  context: { tries: number; failures: number; once: boolean; now: Date; random: number },
): Plan {
  const { tries, once, now, random } = context;
  if (isSuccess(outcome)) return { state: 'delivered', pausedUntil: null, gone: false };
  if (outcome.kind === 'answered' && outcome.status === GONE) return { state: 'failed', pausedUntil: null, gone: true };
  const pauseS = pauseAfter(outcome, context);
  const pausedUntil = pauseS === 0 ? null : later(now, pauseS);
  const delayS = once ? undefined : RETRY_DELAYS_S[tries - 1];
  if (delayS === undefined) return { state: 'failed', pausedUntil, gone: false };
  // Later than planned, never sooner; and not all at once after an outage.
  const dueAt = later(now, Math.max(delayS, pauseS) * (1 + JITTER * random));
  return { state: 'pending', dueAt, pausedUntil, gone: false };
}

/** Whether the receiver took the message. */
function isSuccess(outcome: OutgoingOutcome): boolean {
  return outcome.kind === 'answered' && outcome.status >= 200 && outcome.status < 300;
}

function pauseAfter(outcome: OutgoingOutcome, { failures, now }: { failures: number; now: Date }): number {
  if (outcome.kind === 'failed') {
    // Each such attempt holds a worker for the whole time limit.
    return outcome.why === 'no-answer-in-time' ? Math.min(UNANSWERED_S * failures, LONGEST_UNANSWERED_S) : 0;
  }
  const asked = Math.min(retryAfterS(outcome.retryAfter, now), LONGEST_PAUSE_S);
  return SLOW_DOWN.has(outcome.status) ? Math.max(asked, SLOW_S) : asked;
}

/** `Retry-After` (RFC 9110 §10.2.3) in seconds, as a number of them or as a date; 0 when there is none that can be read. */
function retryAfterS(header: string | undefined, now: Date): number {
  if (header === undefined) return 0;
  if (/^\d{1,9}$/.test(header)) return Number(header);
  const at = Date.parse(header);
  return Number.isNaN(at) ? 0 : Math.max(0, (at - now.getTime()) / SECOND_MS);
}

function later(now: Date, seconds: number): Date {
  return new Date(now.getTime() + Math.round(seconds * SECOND_MS));
}

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
  const outcome = await asSpan(deps.tracer, spanOf(delivery), async (note) => {
    const result = await send(deps, webhook, delivery, startedAt);
    note(result.kind === 'answered' ? { 'http.response.status_code': result.status } : { 'error.type': result.why });
    return result;
  });
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

/** Of the trace that caused the message, which is another for each one that a job sends. */
function spanOf({ trace, type }: DueDelivery) {
  const attributes = { 'http.request.method': 'POST', 'gridworthy.message_type': type };
  return { name: 'POST webhook', kind: 'client', parent: trace ?? undefined, attributes } as const;
}

async function send(
  deps: Deps,
  { url, format, secrets }: LockedWebhook,
  { messageId, body }: DueDelivery,
  at: Date,
): Promise<OutgoingOutcome> {
  const signing = secrets.filter(({ endsAt }) => endsAt === undefined || new Date(endsAt) > at);
  const signed = signWebhook(
    { id: messageId, at, body },
    signing.map(({ secret }) => secret),
  );
  const headers = {
    'content-type': FORMAT_TYPES[format],
    'user-agent': 'Gridworthy-Webhooks/1',
    ...signed,
    ...traceHeader(),
  };
  const options = { policy: outgoingPolicy(deps.config), timeoutMs: TIMEOUT_MS, answerLimitBytes: ANSWER_LIMIT_BYTES };
  return sendOutgoing({ url, headers, body }, options);
}

const traceHeader = (): Record<string, string> => {
  const traceparent = currentTrace();
  return traceparent === undefined ? {} : { traceparent };
};

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
    const what = { actor: SYSTEM_ACTOR, at: now, action: 'webhook.disabled', data: { webhookId, because } };
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
