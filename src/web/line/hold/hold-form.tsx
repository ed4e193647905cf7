import { type Signal, useSignal } from '@preact/signals';
import type { GateAnswer } from '../../api/operations.ts';
import { HistoryButton } from '../history/history-button.tsx';
import type { Desk } from '../state/desk.ts';
import { hold } from '../state/hold.ts';
import { text } from '../text.ts';
import { whyNot } from '../why-not.ts';

const { t } = text;
/** What cars are held for most often. Common practice, no source. */
const REASONS = ['contact', 'leak', 'smoke', 'loose', 'noise', 'rules'] as const;

interface Props {
  desk: Desk;
  entry: GateAnswer['entries'][number];
  onHeld(): Promise<void>;
}

/** One entry of a number, with a hold to place. */
export function HoldForm({ desk, entry, onHeld }: Props) {
  const { entryId, carNumber, runGroup, vehicle, reason: answer } = entry;
  const reason = useSignal('');
  const fault = useSignal<string | undefined>(undefined);
  const done = useSignal(false);
  const id = `reason-${entryId}`;
  const place = async () => {
    if (reason.value.trim() === '') {
      fault.value = t('hold.reason.missing');
      document.getElementById(id)?.focus();
      return;
    }
    const placed = await hold(desk, entryId, reason.value.trim());
    fault.value = placed.ok ? undefined : whyNotHeld(placed);
    done.value = placed.ok;
    if (!placed.ok) return;
    reason.value = '';
    await onHeld();
  };
  return (
    <section class="panel stack" aria-label={`${carNumber}, ${runGroup}`}>
      <p>
        <strong class="car-number number">{carNumber}</strong> {vehicle} · {runGroup}
      </p>
      <p>
        {t('outcome.gate')} <strong>{answer}</strong>
      </p>
      <p role="status">{done.value && t('hold.done')}</p>
      <ReasonField id={id} reason={reason} fault={fault.value} />
      <div class="decisions">
        <button type="button" class="glove bad" onClick={() => void place()}>
          {t('hold.place', { number: carNumber })}
        </button>
        <HistoryButton desk={desk} entryId={entryId} number={carNumber} />
      </div>
    </section>
  );
}

function ReasonField({ id, reason, fault }: { id: string; reason: Signal<string>; fault: string | undefined }) {
  return (
    <div>
      <label for={id}>{t('hold.reason')}</label>
      <input
        id={id}
        maxLength={300}
        list={`${id}-list`}
        value={reason.value}
        aria-invalid={fault !== undefined}
        aria-describedby={fault === undefined ? undefined : `${id}-fault`}
        onInput={(event) => {
          reason.value = event.currentTarget.value;
        }}
      />
      <datalist id={`${id}-list`}>
        {REASONS.map((one) => (
          <option key={one} value={t(`hold.reason.${one}`)} />
        ))}
      </datalist>
      {fault !== undefined && (
        <p class="fault" id={`${id}-fault`} role="alert">
          {fault}
        </p>
      )}
    </div>
  );
}

/** Without an answer nobody knows whether the hold stands; pressing again looks first. */
function whyNotHeld(placed: Extract<Awaited<ReturnType<typeof hold>>, { ok: false }>): string {
  return placed.why.kind === 'offline' ? t('hold.unsure') : whyNot(placed.why);
}
