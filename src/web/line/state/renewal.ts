import type { Draft } from './draft.ts';

/** The server's clock is known to about a second. */
const SLACK_MS = 2000;

/** Whether a lease is to be renewed now: half of it is over, and somebody has worked since it began. */
export function wantsRenewal(
  { expiresAt, leaseMinutes }: Pick<Draft, 'expiresAt' | 'leaseMinutes'>,
  { now, workedAt }: { now: number; workedAt: number },
): boolean {
  const lengthMs = leaseMinutes * 60_000;
  const endMs = Date.parse(expiresAt);
  return now >= endMs - lengthMs / 2 && workedAt > endMs - lengthMs - SLACK_MS;
}
