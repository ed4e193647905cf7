import { text } from '../text.ts';
import { renew } from './claims.ts';
import { serverNow } from './clock.ts';
import { type Desk, draftOf } from './desk.ts';
import { wantsRenewal } from './renewal.ts';
import { say } from './say.ts';

const { t } = text;
const LOOK_MS = 1000;
/** Between two tries to renew. */
const PAUSE_MS = 5000;
const WARN_MS = 120_000;
const WORK = ['pointerdown', 'keydown', 'input', 'change'] as const;

/**
 * Renews the lease of a claim at half time while the page is in sight and somebody works, and says once when two minutes
 * are left.
 *
 * @returns ends it
 */
export function keepLease(desk: Desk, claimId: string): () => void {
  // Opening the car is work.
  let workedAt = serverNow();
  let triedAt = 0;
  let warnedFor = '';
  const worked = () => {
    workedAt = serverNow();
  };
  const look = () => {
    const draft = draftOf(desk, claimId);
    if (draft === undefined || document.visibilityState === 'hidden') return;
    const now = serverNow();
    if (wantsRenewal(draft, { now, workedAt }) && now - triedAt >= PAUSE_MS) {
      triedAt = now;
      void renew(desk, claimId);
    }
    const isLittle = Date.parse(draft.expiresAt) - now < WARN_MS;
    if (!isLittle || warnedFor === draft.expiresAt) return;
    warnedFor = draft.expiresAt;
    say(t('lease.two-minutes', { number: draft.claim.carNumber }), 'urgent');
  };
  for (const kind of WORK) addEventListener(kind, worked);
  const timer = setInterval(look, LOOK_MS);
  return () => {
    clearInterval(timer);
    for (const kind of WORK) removeEventListener(kind, worked);
  };
}
