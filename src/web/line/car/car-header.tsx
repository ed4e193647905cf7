import { useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import { HistoryButton } from '../history/history-button.tsx';
import { putBack } from '../state/claims.ts';
import type { Desk } from '../state/desk.ts';
import type { Draft } from '../state/draft.ts';
import { go } from '../state/route.ts';
import { text } from '../text.ts';
import { whyNot } from '../why-not.ts';

const { t } = text;

/** Which car this is: number, look, group and driver, so that nobody works on the wrong one. */
export function CarHeader({ desk, draft }: { desk: Desk; draft: Draft }) {
  const { claim, driver, claimId } = draft;
  const heading = useRef<HTMLHeadingElement>(null);
  const why = useSignal<string | undefined>(undefined);
  useEffect(() => heading.current?.focus(), [claimId]);
  const back = async () => {
    const done = await putBack(desk, claimId);
    if (done.ok) go({ view: 'line' });
    else why.value = whyNot(done.why);
  };
  return (
    <section class="panel stack">
      <div class="row">
        <h2 class="car-title number" ref={heading} tabIndex={-1}>
          <span class="unseen">{t('car.number')} </span>
          {claim.carNumber}
        </h2>
        <div class="grow">
          <p class="car-look">{claim.vehicle}</p>
          <p>
            <strong>{claim.runGroup}</strong>
            {driver !== undefined && ` · ${driver}`}
          </p>
          <p class={claim.verdict === 'clean' ? '' : 'look-at'}>
            {t(`verdict.${claim.verdict}`)} · {t('car.revision', { revision: claim.revision })}
          </p>
        </div>
      </div>
      <div class="row">
        <button type="button" class="glove" onClick={() => go({ view: 'line' })}>
          {t('car.back')}
        </button>
        <button type="button" class="glove" onClick={() => void back()}>
          {t('car.put-back')}
        </button>
        <HistoryButton desk={desk} entryId={claim.entryId} number={claim.carNumber} />
      </div>
      {why.value !== undefined && (
        <p class="notice look" role="alert">
          {why.value}
        </p>
      )}
    </section>
  );
}
