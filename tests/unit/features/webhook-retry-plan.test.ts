import { describe, expect, test } from 'vitest';
import { planAfter, RETRY_DELAYS_S } from '../../../src/features/notify/webhook-attempt.ts';
import type { OutgoingOutcome } from '../../../src/platform/outgoing/outgoing-request.ts';

const NOW = new Date('2026-06-13T08:00:00.000Z');
const answered = (status: number, retryAfter?: string): OutgoingOutcome => ({
  kind: 'answered',
  status,
  answer: '',
  retryAfter,
});
const plan = (outcome: OutgoingOutcome, over: Partial<Parameters<typeof planAfter>[1]> = {}) =>
  planAfter(outcome, { tries: 1, failures: 1, once: false, now: NOW, random: 0, ...over });
const seconds = (date: Date | null | undefined) => (date ? (date.getTime() - NOW.getTime()) / 1000 : date);

test('the schedule is the one that Standard Webhooks 1.0 recommends, after an attempt at once', () => {
  const [minute, hour] = [60, 3600];
  expect(RETRY_DELAYS_S).toEqual([
    5,
    5 * minute,
    30 * minute,
    2 * hour,
    5 * hour,
    10 * hour,
    14 * hour,
    20 * hour,
    24 * hour,
  ]);
});

describe('an attempt', () => {
  test.each([200, 201, 202, 204, 299])('answered %i is a success', (status) => {
    expect(plan(answered(status))).toEqual({ state: 'delivered', pausedUntil: null, gone: false });
  });

  test.each([199, 300, 301, 302, 304, 307, 308, 400, 401, 404, 409, 422, 500, 501, 503])(
    'answered %i is tried again',
    (status) => expect(plan(answered(status))).toMatchObject({ state: 'pending', gone: false }),
  );

  test.each(RETRY_DELAYS_S.map((delay, index) => [index + 1, delay]))(
    'number %i that failed is followed by one %i s later, up to a tenth more',
    (tries, delay) => {
      expect(seconds(plan(answered(500), { tries }).dueAt)).toBe(delay);
      expect(seconds(plan(answered(500), { tries, random: 1 }).dueAt)).toBeCloseTo(delay * 1.1, 3);
    },
  );

  test('number 10 that failed is the last, and of a test message the first is', () => {
    expect(plan(answered(500), { tries: 10 })).toMatchObject({ state: 'failed', gone: false });
    expect(plan(answered(500), { once: true })).toMatchObject({ state: 'failed' });
  });

  test('answered 410 is the last for all', () => {
    expect(plan(answered(410, '60'))).toEqual({ state: 'failed', pausedUntil: null, gone: true });
  });

  test.each<[number, string | undefined, number | null]>([
    [429, undefined, 60],
    [429, '5', 60],
    [429, '600', 600],
    [502, '999999999', 3600],
    [504, 'Sat, 13 Jun 2026 08:10:00 GMT', 600],
    [503, undefined, null],
    [503, '30', 30],
    [503, 'Sat, 13 Jun 2026 07:00:00 GMT', null],
    [503, '-5', null],
    [503, '1e9', null],
    [503, 'soon', null],
    [500, '0', null],
  ])('answered %i with Retry-After %s pauses for %s s (RFC 9110 §10.2.3)', (status, retryAfter, pause) => {
    const { pausedUntil, dueAt } = plan(answered(status, retryAfter));
    expect(seconds(pausedUntil)).toBe(pause);
    expect(seconds(dueAt)).toBe(Math.max(5, pause ?? 0));
  });

  test.each([
    [1, 30],
    [4, 120],
    [10, 300],
    [1000, 300],
  ])('not answered in time, %i in a row, pauses for %i s: each holds a worker', (failures, pause) => {
    expect(seconds(plan({ kind: 'failed', why: 'no-answer-in-time' }, { failures }).pausedUntil)).toBe(pause);
  });

  test.each(['not-allowed', 'not-connected', 'tls-failed', 'broken-answer'] as const)('%s pauses nothing', (why) => {
    expect(plan({ kind: 'failed', why })).toMatchObject({ state: 'pending', pausedUntil: null });
  });
});
