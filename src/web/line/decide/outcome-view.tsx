import { useEffect, useRef } from 'preact/hooks';
import { useSignal } from '@preact/signals';
import type { SignOffView } from '../../api/operations.ts';
import { withClockTimes } from '../../shared/times.ts';
import { clockTime, dayAndTime } from '../format.ts';
import { takeCar } from '../list/claim-bar.tsx';
import { type Desk, dropDraft } from '../state/desk.ts';
import type { Draft } from '../state/draft.ts';
import { go } from '../state/route.ts';
import { text } from '../text.ts';

const { t } = text;
const LOOKS = { accept: 'good', 'accept-with-conditions': 'look', refuse: 'bad' } as const;
const SIGNS = { accept: '✓', 'accept-with-conditions': '!', refuse: '✗' } as const;

/** What the server answered: only now is it decided. */
export function OutcomeView({ desk, draft, outcome }: { desk: Desk; draft: Draft; outcome: SignOffView }) {
  const heading = useRef<HTMLHeadingElement>(null);
  const message = useSignal<string | undefined>(undefined);
  const { decision, conditions, clearance, stickerNumber, signedBy, signedAt, caution, note } = outcome;
  const { timeZone } = desk.event;
  useEffect(() => heading.current?.focus(), []);
  const leave = async (next: boolean) => {
    // Gone from the device first: nothing of a car that is done stays here.
    await dropDraft(desk, draft.claimId);
    go({ view: 'line' });
    if (next) await takeCar(desk, {}, message);
  };
  return (
    <section class={`outcome stack ${LOOKS[decision]}`}>
      <h2 ref={heading} tabIndex={-1}>
        <span class="sign" aria-hidden="true">
          {SIGNS[decision]}
        </span>{' '}
        {t(`outcome.${decision}`, { number: outcome.carNumber })}
      </h2>
      <p>
        {t('outcome.gate')} <strong>{withClockTimes(clearance.reason, timeZone)}</strong>
      </p>
      {conditions.length > 0 && (
        <ul>
          {conditions.map((condition) => (
            <li key={condition.id}>
              {condition.text}
              {condition.dueAt !== undefined &&
                ` (${t('conditions.by', { time: dayAndTime(condition.dueAt, timeZone) })})`}
            </li>
          ))}
        </ul>
      )}
      {note !== undefined && <p>{t('summary.note', { text: note })}</p>}
      {stickerNumber !== undefined && <p>{t('summary.sticker', { number: stickerNumber })}</p>}
      <p class="number">{t('outcome.signed', { name: signedBy, time: clockTime(signedAt, timeZone) })}</p>
      <p>{caution}</p>
      <div class="decisions">
        <button type="button" class="glove primary" onClick={() => void leave(true)}>
          {t('claim.next')}
        </button>
        <button type="button" class="glove" onClick={() => void leave(false)}>
          {t('car.back')}
        </button>
      </div>
    </section>
  );
}
