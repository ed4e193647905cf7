import type { RefObject } from 'preact';
import { useRef, useState } from 'preact/hooks';
import { words } from '../../shared/text.ts';
import { countOf, stuckCells } from '../kept/answers-count.ts';
import { useGarage } from '../context.ts';
import { Mark, markOfVerdict } from '../item/mark.tsx';
import { timeText } from './say.ts';
import { orderSubmission } from '../kept/submit.ts';
import { text } from '../text.ts';

const { t } = text;

/** The end of the walk: what would be submitted, what it leads to, and the button. */
export function SubmitPanel() {
  const { declaration } = useGarage();
  const verdict = declaration.verdict.value;
  const { asked, given } = countOf(declaration, declaration.shown.value);
  return (
    <section class="panel stack" aria-labelledby="submit">
      <h2 id="submit" tabIndex={-1}>
        {t('submit.title')}
      </h2>
      {!declaration.open.value ? (
        <p>{t('submit.closed')}</p>
      ) : (
        <>
          <p>{given < asked ? t('submit.missing', { count: asked - given }) : t('submit.complete')}</p>
          {verdict !== undefined && (
            <p class="verdict-line">
              <Mark kind={markOfVerdict(verdict)} /> {t(`submit.${verdict}`)}
            </p>
          )}
          <SubmitButton />
        </>
      )}
    </section>
  );
}

function SubmitButton() {
  const { declaration, sync } = useGarage();
  const dialog = useRef<HTMLDialogElement>(null);
  const stuck = stuckCells(declaration).length;
  const hinders =
    declaration.conflicts.value.length > 0
      ? t('submit.conflict')
      : stuck > 0
        ? t('submit.stuck', { count: stuck })
        : '';
  if (declaration.pending.value !== undefined) {
    return (
      <div class="notice look stack" role="status">
        <strong>{t('submit.on-its-way')}</strong>
        <span>{t('submit.on-its-way.says')}</span>
        <button type="button" onClick={() => void sync.now()}>
          {t('submit.again')}
        </button>
      </div>
    );
  }
  return (
    <>
      {declaration.submitFault.value !== undefined && (
        <p class="notice bad" role="alert">
          {t('submit.refused', { why: declaration.submitFault.value })}
        </p>
      )}
      {hinders !== '' && (
        <p class="notice bad" id="hinders">
          {hinders}
        </p>
      )}
      <button
        type="button"
        class="primary"
        aria-disabled={hinders !== ''}
        aria-describedby={hinders === '' ? undefined : 'hinders'}
        onClick={() => {
          if (hinders === '') dialog.current?.showModal();
        }}
      >
        {t('submit.button')}
      </button>
      <AskDialog dialog={dialog} />
    </>
  );
}

function AskDialog({ dialog }: { dialog: RefObject<HTMLDialogElement | null> }) {
  const { declaration, sync } = useGarage();
  const [saidBy, setSaidBy] = useState<string | undefined>(undefined);
  const [isMissing, setMissing] = useState(false);
  const send = (): void => {
    if (declaration.isTyped && saidBy === undefined) {
      setMissing(true);
      return;
    }
    dialog.current?.close();
    orderSubmission(declaration, saidBy);
    void sync.now();
  };
  const choose = (name: string): void => {
    setSaidBy(name);
    setMissing(false);
  };
  return (
    <dialog ref={dialog} aria-labelledby="submit-ask">
      <div class="stack">
        <h2 id="submit-ask">{t('submit.ask')}</h2>
        <Voids />
        {declaration.isTyped ? (
          <WhoSays chosen={saidBy} onChoose={choose} isMissing={isMissing} />
        ) : (
          <p>{t('submit.responsible')}</p>
        )}
        <div class="row">
          <button type="button" class="primary" onClick={send}>
            {t('submit.now')}
          </button>
          <button type="button" onClick={() => dialog.current?.close()}>
            {words.t('cancel')}
          </button>
        </div>
      </div>
    </dialog>
  );
}

interface WhoSaysProps {
  chosen: string | undefined;
  onChoose(name: string): void;
  isMissing: boolean;
}

/** Who of the entry says what was typed: a person stands for it, and it is not whoever types. */
function WhoSays({ chosen, onChoose, isMissing }: WhoSaysProps) {
  const { declaration } = useGarage();
  const entry = declaration.entry.value;
  const names = new Set(entry === undefined ? [] : [entry.entrant.name, ...entry.people.map(({ name }) => name)]);
  return (
    <>
      <fieldset class="stack">
        <legend>{t('typed.who')}</legend>
        <div class="options">
          {[...names].map((name) => (
            <label key={name} class="option">
              <input type="radio" name="said-by" checked={name === chosen} onChange={() => onChoose(name)} />{' '}
              <bdi>{name}</bdi>
            </label>
          ))}
        </div>
      </fieldset>
      <p role="alert" class="fault">
        {isMissing && t('typed.who.missing')}
      </p>
      <p>{t('typed.read-back')}</p>
      <p class="notice look">{t('typed.not-you')}</p>
    </>
  );
}

/** What a new submission does to the one before it. */
function Voids() {
  const { declaration } = useGarage();
  const before = declaration.inspection.value;
  const form = declaration.form.value;
  if (before === undefined || form === undefined) return declaration.isTyped ? null : <p>{t('submit.first')}</p>;
  const at = timeText(before.submittedAt, form.event.timeZone);
  const status = declaration.entry.value?.clearance.status;
  const isSigned = status === 'clear' || status === 'clear-with-conditions';
  return (
    <p class="notice look">
      {t('submit.voids', { revision: before.revision, at })} {isSigned && t('submit.voids-sign-off')}
      {before.ticket !== null && t('submit.voids-place')}
    </p>
  );
}
