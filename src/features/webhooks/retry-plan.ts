import type { OutgoingOutcome } from '../../platform/outgoing-request.ts';

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

export interface Plan {
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
export function isSuccess(outcome: OutgoingOutcome): boolean {
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
