import { useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import { words } from '../../shared/text.ts';
import { Modal } from '../modal.tsx';
import { placeName, serverNow } from '../format.ts';
import { changeWorksheet, type Station, withSticker } from '../state/station.ts';
import type { Decision, Rejection, Worksheet } from '../state/worksheet.ts';
import { goTo } from '../state/feed.ts';
import { type Blocker, blockersOf, rejectedParts } from '../state/rejection.ts';
import { completionOf } from '../state/points.ts';
import { countsOf, decide } from '../state/sign-off.ts';
import { text } from '../text.ts';
import { Conditions } from './conditions.tsx';
import { StickerField } from './sticker-field.tsx';

interface HindersProps {
  title: string;
  found: readonly Blocker[];
  urgent?: boolean;
  /** before the focus moves, for a dialog that must close first */
  onGo?(): void;
}

/** What stands in the way, each with the way to it. */
function Hinders({ title, found, urgent = false, onGo }: HindersProps) {
  return (
    <div class={`notice stack ${urgent ? 'bad' : 'look'}`} role={urgent ? 'alert' : undefined}>
      <p>
        <strong>{title}</strong>
      </p>
      <ul class="hinders">
        {found.map(({ key, values, target }, index) => (
          <li key={`${key}-${index}`}>
            <span>
              {t(key, values)}
              {placeOf(target)}
            </span>
            {target !== undefined && (
              <button
                type="button"
                class="glove"
                onClick={() => {
                  onGo?.();
                  goTo(target);
                }}
              >
                {t('hinders.go')}
                <span class="unseen">
                  : {t(key, values)}
                  {placeOf(target)}
                </span>
              </button>
            )}
          </li>
        ))}
      </ul>
    </div>
  );
}

/** Where on the car, for a point that has several places. */
function placeOf(target: Blocker['target']): string {
  const position = target?.kind === 'place' ? target.cell.split('@')[1] : undefined;
  return position === undefined ? '' : ` (${placeName(position)})`;
}

const TITLES = ['bar-stands', 'points-not-checked', 'sticker-taken', 'conflict-of-interest'] as const;

/** Why the server did not take the sign-off, each part with the way to it; the focus goes to the first. */
function RefusalNotice({
  station,
  worksheet,
  refusal,
}: {
  station: Station;
  worksheet: Worksheet;
  refusal: Rejection;
}) {
  const box = useRef<HTMLDivElement>(null);
  const parts = rejectedParts(worksheet, refusal, station.items.value);
  useEffect(() => {
    const first = parts.find(({ target }) => target !== undefined)?.target;
    if (first === undefined) box.current?.focus();
    else goTo(first);
  }, [refusal]);
  const known = TITLES.find((code) => code === refusal.code);
  return (
    <div class="notice bad stack" role="alert" ref={box} tabIndex={-1}>
      <p>
        <strong>{t('refused.title')}</strong>
      </p>
      <p>{known === undefined ? refusal.detail : t(`refused.${known}`)}</p>
      <ul class="hinders">
        {parts.map(({ detail, target }, index) => (
          <li key={`${detail}-${index}`}>
            <span>{detail}</span>
            {target !== undefined && (
              <button type="button" class="glove" onClick={() => goTo(target)}>
                {t('hinders.go')}
                <span class="unseen">: {detail}</span>
              </button>
            )}
          </li>
        ))}
      </ul>
    </div>
  );
}

const { t } = text;
const DECISIONS: readonly { decision: Decision; look: string; sign: string }[] = [
  { decision: 'accept', look: 'good', sign: '✓' },
  { decision: 'accept-with-conditions', look: '', sign: '!' },
  { decision: 'refuse', look: 'bad', sign: '✗' },
];

/** Sticker, conditions, note, and the decision, which stays within reach of the thumb. */
export function DecidePanel({ station, worksheet: kept }: { station: Station; worksheet: Worksheet }) {
  const worksheet = withSticker(kept, station.roll.value);
  const asked = useSignal<Decision | undefined>(undefined);
  const confirming = useSignal(false);
  const found = asked.value === undefined ? [] : blockersOf(worksheet, asked.value, station.items.value, serverNow());
  const must = found.filter(({ weight }) => weight === 'must');
  const press = (decision: Decision) => {
    asked.value = decision;
    const [first] = blockersOf(worksheet, decision, station.items.value, serverNow()).filter(
      ({ weight }) => weight === 'must',
    );
    if (first === undefined) confirming.value = true;
    else if (first.target !== undefined) goTo(first.target);
  };
  const open = blockersOf(worksheet, 'accept', station.items.value, serverNow()).filter(
    ({ target }) => target?.kind === 'place',
  );
  return (
    <>
      <section class="stack decide" aria-labelledby="decide-heading">
        <h2 id="decide-heading">{t('decide.heading')}</h2>
        {worksheet.refusal !== undefined && (
          <RefusalNotice station={station} worksheet={worksheet} refusal={worksheet.refusal} />
        )}
        <Completion station={station} worksheet={worksheet} open={open} />
        <Fields station={station} worksheet={worksheet} faulty={must.map(({ target }) => target?.kind)} />
        <Conditions station={station} worksheet={worksheet} faulty={must} />
        {must.length > 0 && <Hinders title={t('decide.missing')} found={must} urgent />}
      </section>
      <div class="decide-bar" role="group" aria-labelledby="decide-heading">
        {DECISIONS.map(({ decision, look, sign }) => (
          <button key={decision} type="button" class={`glove ${look}`} onClick={() => press(decision)}>
            <span aria-hidden="true">{sign}</span> {t(`decide.${decision}`)}
          </button>
        ))}
      </div>
      {confirming.value && asked.value !== undefined && (
        <ConfirmDialog
          station={station}
          worksheet={worksheet}
          decision={asked.value}
          warnings={found.filter(({ weight }) => weight === 'refused')}
          onClose={() => {
            confirming.value = false;
          }}
        />
      )}
    </>
  );
}

/** Whether all that an acceptance needs was looked at; else what is open. */
function Completion({
  station,
  worksheet,
  open,
}: {
  station: Station;
  worksheet: Worksheet;
  open: readonly Blocker[];
}) {
  const { always, asked } = completionOf(worksheet, station.items.value);
  const counts = { always: always.count, asked: asked.count };
  if (open.length === 0) {
    return (
      <p class="notice good complete number" role="status">
        <span aria-hidden="true">✓</span> <strong>{t('decide.complete', counts)}</strong> {t('decide.complete.of')}
      </p>
    );
  }
  return (
    <>
      <p class="number" role="status">
        {t('decide.so-far', { ...counts, alwaysSeen: always.seen, askedSeen: asked.seen })}
      </p>
      <Hinders title={t('decide.open', { count: open.length })} found={open} />
    </>
  );
}

interface FieldsProps {
  station: Station;
  worksheet: Worksheet;
  faulty: readonly (string | undefined)[];
}

function Fields({ station, worksheet, faulty }: FieldsProps) {
  const change = (changed: Partial<Worksheet>) =>
    void changeWorksheet(station, worksheet.claimId, (one) => ({ ...one, ...changed, refusal: undefined }));
  const noNote = faulty.includes('note');
  return (
    <>
      <StickerField station={station} worksheet={worksheet} isFaulty={faulty.includes('sticker')} />
      <div>
        <label for="note">{t('decide.note')}</label>
        <textarea
          id="note"
          rows={3}
          maxLength={1000}
          value={worksheet.note}
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

interface Props {
  station: Station;
  worksheet: Worksheet;
  decision: Decision;
  /** what the server will probably refuse */
  warnings: readonly Blocker[];
  onClose(): void;
}

/** What will be sent, once more, and what still stands in the way. */
function ConfirmDialog({ station, worksheet, decision, warnings, onClose }: Props) {
  const sent = useSignal(false);
  const number = worksheet.claim.carNumber;
  const send = () => {
    if (sent.value) return;
    sent.value = true;
    void decide(station, worksheet.claimId, decision).finally(onClose);
  };
  return (
    <Modal title={t(`confirm.${decision}`, { number })} onClose={onClose}>
      <p>{worksheet.claim.vehicle}</p>
      <p class="number">{t('confirm.counts', { ...countsOf(worksheet) })}</p>
      {decision === 'accept-with-conditions' && (
        <ul>
          {worksheet.conditions.map((condition) => (
            <li key={condition.id}>{condition.text}</li>
          ))}
        </ul>
      )}
      {decision === 'refuse' ? <p>{worksheet.note}</p> : <p>{t('summary.sticker', { number: worksheet.sticker })}</p>}
      {warnings.length > 0 && <Hinders title={t('confirm.hinders')} found={warnings} onGo={onClose} />}
      <div class="decisions">
        <button type="button" class="glove" onClick={onClose}>
          {words.t('cancel')}
        </button>
        <button type="button" class="glove primary" onClick={send} aria-disabled={sent.value}>
          {t('confirm.send')}
        </button>
      </div>
    </Modal>
  );
}
