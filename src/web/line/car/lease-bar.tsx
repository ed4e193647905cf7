import { useEffect } from 'preact/hooks';
import { minutesSeconds } from '../format.ts';
import { renew } from '../state/claims.ts';
import { now, serverNow } from '../state/clock.ts';
import type { Desk } from '../state/desk.ts';
import type { Draft } from '../state/draft.ts';
import { keepLease } from '../state/lease.ts';
import { text } from '../text.ts';

const { t } = text;
const LITTLE_MS = 120_000;

/** How long the car is still this inspector's, always in sight; renewed by itself while somebody works. */
export function LeaseBar({ desk, draft }: { desk: Desk; draft: Draft }) {
  const { claimId, claim, expiresAt } = draft;
  const restMs = Date.parse(expiresAt) - now.value;
  useEffect(() => keepLease(desk, claimId), [desk, claimId]);
  const isOver = Date.parse(expiresAt) <= serverNow();
  const isLittle = restMs < LITTLE_MS;
  return (
    <div class={`lease row spread${isLittle ? ' little' : ''}`}>
      <strong class="number lease-number" aria-hidden="true">
        {claim.carNumber}
      </strong>
      <span class="number" role="timer" aria-label={t('lease.label')}>
        {isOver ? t('lease.over') : t('lease.rest', { time: minutesSeconds(restMs) })}
      </span>
      <button type="button" class="glove" onClick={() => void renew(desk, claimId)}>
        {t('lease.renew')}
      </button>
    </div>
  );
}
