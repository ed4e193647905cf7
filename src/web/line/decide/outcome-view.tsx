import { useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import type { SignOffView } from '../../api/operations.ts';
import type { Unsent } from '../../shared/outbox.ts';
import { reasonText } from '../../shared/times.ts';
import { clockTime, dayAndTime, now, placeName } from '../format.ts';
import { takeCar } from '../list/claim-bar.tsx';
import { type Station, dropWorksheet } from '../state/station.ts';
import type { Worksheet } from '../state/worksheet.ts';
import { go } from '../state/route.ts';
import { sendAll, summaryText } from '../state/sign-off.ts';
import { text } from '../text.ts';

const FRESH_MS = 1500;

/** A decision that the server has not answered. It says nothing about the car but that. */
export function UnsentView({
  station,
  worksheet,
  waiting,
}: {
  station: Station;
  worksheet: Worksheet;
  waiting: Unsent;
}) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), []);
  const number = worksheet.claim.carNumber;
  // Read with each tick of the clock: what has just been sent is not yet late.
  const isFresh = now.value > 0 && Date.now() - waiting.queuedAt < FRESH_MS;
  return (
    <section class="unsent-car stack">
      <h2 ref={heading} tabIndex={-1}>
        {t(isFresh ? 'unsent.sending' : 'unsent.car', { number })}
      </h2>
      <p>{t('unsent.meaning', { decision: t(`decision.${worksheet.decision ?? 'refuse'}`) })}</p>
      <p class="number">
        {t('unsent.since', { time: clockTime(waiting.queuedAt, station.event.timeZone), count: waiting.attempts })}
      </p>
      <details class="more">
        <summary>{t('unsent.what')}</summary>
        <p class="entered">{enteredText(station, worksheet)}</p>
      </details>
      <div class="decisions">
        <button type="button" class="glove" onClick={() => void sendAll(station)}>
          {t('unsent.now')}
        </button>
        <button type="button" class="glove" onClick={() => go({ view: 'line' })}>
          {t('car.back')}
        </button>
      </div>
    </section>
  );
}

const { t } = text;
const LOOKS = { accept: 'good', 'accept-with-conditions': 'look', refuse: 'bad' } as const;
const SIGNS = { accept: '✓', 'accept-with-conditions': '!', refuse: '✗' } as const;

/** What the server answered: only now is it decided. */
export function OutcomeView({
  station,
  worksheet,
  outcome,
}: {
  station: Station;
  worksheet: Worksheet;
  outcome: SignOffView;
}) {
  const heading = useRef<HTMLHeadingElement>(null);
  const message = useSignal<string | undefined>(undefined);
  const { decision, conditions, clearance, stickerNumber, signedBy, signedAt, caution, note } = outcome;
  const { timeZone } = station.event;
  useEffect(() => heading.current?.focus(), []);
  const leave = async (next: boolean) => {
    // Gone from the device first: nothing of a car that is done stays here.
    await dropWorksheet(station, worksheet.claimId);
    go({ view: 'line' });
    if (next) await takeCar(station, {}, message);
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
        {t('outcome.gate')} <strong>{reasonText(clearance.reason, timeZone)}</strong>
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

interface Props {
  station: Station;
  worksheet: Worksheet;
  ended: NonNullable<Worksheet['ended']>;
}

/** A claim that is over: who has the car, and what was entered, to be copied. */
export function EndedView({ station, worksheet, ended }: Props) {
  const heading = useRef<HTMLHeadingElement>(null);
  const message = useSignal<string | undefined>(undefined);
  const copied = useSignal(false);
  const { carNumber: number } = worksheet.claim;
  const entered = enteredText(station, worksheet);
  useEffect(() => heading.current?.focus(), []);
  const drop = async () => {
    await dropWorksheet(station, worksheet.claimId);
    go({ view: 'line' });
  };
  const again = { carNumber: number };
  return (
    <section class="stack">
      <h2 ref={heading} tabIndex={-1}>
        {t('ended.title', { number })}
      </h2>
      <p class="notice bad" role="alert">
        {wordsOf(ended, number)}
      </p>
      <p>{t('ended.kept')}</p>
      <label for="entered">{t('ended.entered')}</label>
      <textarea id="entered" readOnly rows={8} value={entered} />
      {message.value !== undefined && (
        <p class="notice look" role="alert">
          {message.value}
        </p>
      )}
      <p role="status">{copied.value && t('ended.copied')}</p>
      <div class="decisions">
        <button
          type="button"
          class="glove"
          onClick={() => {
            void copy(entered, 'entered').then(() => {
              copied.value = true;
            });
          }}
        >
          {t('ended.copy')}
        </button>
        <button type="button" class="glove" onClick={() => void takeCar(station, again, message)}>
          {t('ended.again')}
        </button>
        <button type="button" class="glove" onClick={() => go({ view: 'line' })}>
          {t('car.back')}
        </button>
        <button type="button" class="glove" onClick={() => void drop()}>
          {t('ended.drop')}
        </button>
      </div>
    </section>
  );
}

/** Where the browser gives no clipboard, the text is selected: the device's own menu copies it. */
async function copy(words: string, id: string): Promise<void> {
  const field = document.getElementById(id);
  if (field instanceof HTMLTextAreaElement) field.select();
  if ('clipboard' in navigator) await navigator.clipboard.writeText(words);
}

/** In words of the page where it knows what happened; else the server's own. */
function wordsOf({ state, by, detail }: Props['ended'], number: string): string {
  if (by !== undefined) return t('ended.taken', { name: by, number });
  if (state === 'put-back') return t('ended.put-back');
  if (state === 'done') return t('ended.done', { number });
  return detail;
}

/** What was entered, in the words of the page. */
function enteredText(station: Station, worksheet: Worksheet): string {
  return summaryText(worksheet, station.items.value, {
    place: ({ label, position }) => (position === undefined ? label : `${label}, ${placeName(position)}`),
    mark: (mark) => t(`mark.${mark}`),
    sticker: (number) => t('summary.sticker', { number }),
    condition: (words) => t('summary.condition', { text: words }),
    note: (words) => t('summary.note', { text: words }),
  });
}
