import { useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import { takeCar } from '../list/claim-bar.tsx';
import { type Desk, dropDraft } from '../state/desk.ts';
import type { Draft } from '../state/draft.ts';
import { go } from '../state/route.ts';
import { text } from '../text.ts';
import { enteredText } from './words.ts';

const { t } = text;

interface Props {
  desk: Desk;
  draft: Draft;
  ended: NonNullable<Draft['ended']>;
}

/** A claim that is over: who has the car, and what was entered, to be copied. */
export function EndedView({ desk, draft, ended }: Props) {
  const heading = useRef<HTMLHeadingElement>(null);
  const message = useSignal<string | undefined>(undefined);
  const copied = useSignal(false);
  const { carNumber: number } = draft.claim;
  const entered = enteredText(desk, draft);
  useEffect(() => heading.current?.focus(), []);
  const drop = async () => {
    await dropDraft(desk, draft.claimId);
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
        <button type="button" class="glove" onClick={() => void takeCar(desk, again, message)}>
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
