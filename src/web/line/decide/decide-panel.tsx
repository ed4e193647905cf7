import { useSignal } from '@preact/signals';
import { changeDraft, type Desk } from '../state/desk.ts';
import type { Decision, Draft } from '../state/draft.ts';
import { serverNow } from '../state/clock.ts';
import { goTo } from '../state/focus.ts';
import { hindrances } from '../state/hindrances.ts';
import { text } from '../text.ts';
import { Conditions } from './conditions.tsx';
import { ConfirmDialog } from './confirm-dialog.tsx';
import { Hinders } from './hinders.tsx';
import { RefusalNotice } from './refusal-notice.tsx';

const { t } = text;
const DECISIONS: readonly { decision: Decision; look: string; sign: string }[] = [
  { decision: 'accept', look: 'good', sign: '✓' },
  { decision: 'accept-with-conditions', look: '', sign: '!' },
  { decision: 'refuse', look: 'bad', sign: '✗' },
];

/** Sticker, conditions, note, and the decision. */
export function DecidePanel({ desk, draft }: { desk: Desk; draft: Draft }) {
  const asked = useSignal<Decision | undefined>(undefined);
  const confirming = useSignal(false);
  const found = asked.value === undefined ? [] : hindrances(draft, asked.value, desk.items.value, serverNow());
  const must = found.filter(({ weight }) => weight === 'must');
  const press = (decision: Decision) => {
    asked.value = decision;
    const [first] = hindrances(draft, decision, desk.items.value, serverNow()).filter(
      ({ weight }) => weight === 'must',
    );
    if (first === undefined) confirming.value = true;
    else if (first.target !== undefined) goTo(first.target);
  };
  const open = hindrances(draft, 'accept', desk.items.value, serverNow()).filter(
    ({ target }) => target?.kind === 'place',
  );
  return (
    <section class="stack decide" aria-labelledby="decide-heading">
      <h2 id="decide-heading">{t('decide.heading')}</h2>
      {draft.refusal !== undefined && <RefusalNotice desk={desk} draft={draft} refusal={draft.refusal} />}
      {open.length > 0 && <Hinders title={t('decide.open', { count: open.length })} found={open} />}
      <Fields desk={desk} draft={draft} faulty={must.map(({ target }) => target?.kind)} />
      <Conditions desk={desk} draft={draft} faulty={must} />
      {must.length > 0 && <Hinders title={t('decide.missing')} found={must} urgent />}
      <div class="decisions">
        {DECISIONS.map(({ decision, look, sign }) => (
          <button key={decision} type="button" class={`glove ${look}`} onClick={() => press(decision)}>
            <span aria-hidden="true">{sign}</span> {t(`decide.${decision}`)}
          </button>
        ))}
      </div>
      {confirming.value && asked.value !== undefined && (
        <ConfirmDialog
          desk={desk}
          draft={draft}
          decision={asked.value}
          warnings={found.filter(({ weight }) => weight === 'refused')}
          onClose={() => {
            confirming.value = false;
          }}
        />
      )}
    </section>
  );
}

interface FieldsProps {
  desk: Desk;
  draft: Draft;
  faulty: readonly (string | undefined)[];
}

function Fields({ desk, draft, faulty }: FieldsProps) {
  const change = (changed: Partial<Draft>) =>
    void changeDraft(desk, draft.claimId, (one) => ({ ...one, ...changed, refusal: undefined }));
  const noSticker = faulty.includes('sticker');
  const noNote = faulty.includes('note');
  return (
    <>
      <div>
        <label for="sticker">{t('decide.sticker')}</label>
        <input
          id="sticker"
          class="number"
          autocomplete="off"
          maxLength={12}
          value={draft.sticker}
          aria-invalid={noSticker}
          aria-describedby={noSticker ? 'sticker-fault' : undefined}
          onInput={(event) => change({ sticker: event.currentTarget.value })}
        />
        {noSticker && (
          <p class="fault" id="sticker-fault">
            {t('hinders.sticker-form')}
          </p>
        )}
      </div>
      <div>
        <label for="note">{t('decide.note')}</label>
        <textarea
          id="note"
          rows={3}
          maxLength={1000}
          value={draft.note}
          aria-invalid={noNote}
          aria-describedby={noNote ? 'note-fault' : undefined}
          onInput={(event) => change({ note: event.currentTarget.value })}
        />
        {noNote && (
          <p class="fault" id="note-fault">
            {t('hinders.note')}
          </p>
        )}
      </div>
    </>
  );
}
