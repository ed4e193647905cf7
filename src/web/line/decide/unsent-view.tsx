import { useEffect, useRef } from 'preact/hooks';
import type { Unsent } from '../../shared/outbox.ts';
import { clockTime } from '../format.ts';
import { now } from '../state/clock.ts';
import type { Desk } from '../state/desk.ts';
import type { Draft } from '../state/draft.ts';
import { go } from '../state/route.ts';
import { sendAll } from '../state/sign-off.ts';
import { text } from '../text.ts';
import { enteredText } from './words.ts';

const { t } = text;
const FRESH_MS = 1500;

/** A decision that the server has not answered. It says nothing about the car but that. */
export function UnsentView({ desk, draft, waiting }: { desk: Desk; draft: Draft; waiting: Unsent }) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), []);
  const number = draft.claim.carNumber;
  // Read with each tick of the clock: what has just been sent is not yet late.
  const isFresh = now.value > 0 && Date.now() - waiting.queuedAt < FRESH_MS;
  return (
    <section class="unsent-car stack">
      <h2 ref={heading} tabIndex={-1}>
        {t(isFresh ? 'unsent.sending' : 'unsent.car', { number })}
      </h2>
      <p>{t('unsent.meaning', { decision: t(`decision.${draft.decision ?? 'refuse'}`) })}</p>
      <p class="number">
        {t('unsent.since', { time: clockTime(waiting.queuedAt, desk.event.timeZone), count: waiting.attempts })}
      </p>
      <details class="more">
        <summary>{t('unsent.what')}</summary>
        <p class="entered">{enteredText(desk, draft)}</p>
      </details>
      <div class="decisions">
        <button type="button" class="glove" onClick={() => void sendAll(desk)}>
          {t('unsent.now')}
        </button>
        <button type="button" class="glove" onClick={() => go({ view: 'line' })}>
          {t('car.back')}
        </button>
      </div>
    </section>
  );
}
