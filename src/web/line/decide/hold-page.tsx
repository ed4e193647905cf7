import { type Signal, useSignal } from '@preact/signals';
import { ApiProblem, call } from '../../api/call.ts';
import { type GateAnswer, lookUpCar } from '../../api/operations.ts';
import { KINDS, type StopKind, sentOrThrow } from '../../shared/stops.ts';
import { Also, ByNumber } from '../list/by-number.tsx';
import { HistoryButton } from '../car/history-dialog.tsx';
import { ask, type Station } from '../state/station.ts';
import { text } from '../text.ts';
import { whyNot } from '../modal.tsx';
import { StandingHolds } from './standing-holds.tsx';

const { t } = text;

/** Any car of the event by its number: what the gate says, its history, and a hold. */
export function HoldPage({ station }: { station: Station }) {
  const answer = useSignal<GateAnswer | undefined>(undefined);
  const why = useSignal<string | undefined>(undefined);
  // A number that nobody could be asked about: it can be stopped all the same.
  const alone = useSignal<string | undefined>(undefined);
  const find = async (carNumber: string) => {
    const params = { eventId: station.event.eventId, carNumber };
    const done = await ask(station, () => call(lookUpCar, { params, query: {} }, { token: station.session.token }));
    why.value = done.ok ? undefined : whyNot(done.why);
    alone.value = !done.ok && done.why.kind === 'offline' ? carNumber : undefined;
    answer.value = done.ok && done.value.status === 200 ? done.value.body : undefined;
  };
  return (
    <section class="stack" aria-labelledby="hold-heading">
      <h2 id="hold-heading">{t('hold.heading')}</h2>
      <p>{t('hold.meaning')}</p>
      <ByNumber
        id="hold-number"
        action={t('hold.find')}
        message={why}
        onNumber={(carNumber) => {
          void find(carNumber);
        }}
      />
      {answer.value?.entries.length === 0 && (
        <p class="notice look" role="alert">
          {t('hold.unknown', { number: answer.value.carNumber, similar: answer.value.similar.join(', ') || '–' })}
        </p>
      )}
      {answer.value !== undefined && <Also number={answer.value.carNumber} cars={answer.value.lookAlikes} />}
      {answer.value?.entries.map((entry) => (
        <HoldForm
          key={entry.entryId}
          station={station}
          carNumber={entry.carNumber}
          entry={entry}
          onChanged={() => find(entry.carNumber)}
        />
      ))}
      {alone.value !== undefined && (
        <HoldForm
          key={alone.value}
          station={station}
          carNumber={alone.value}
          onChanged={() => find(alone.value ?? '')}
        />
      )}
    </section>
  );
}

interface Props {
  station: Station;
  carNumber: string;
  /** absent: nobody could be asked, and the hold is for whatever is entered under the number */
  entry?: GateAnswer['entries'][number] | undefined;
  /** the server knows of the hold, or of the lift */
  onChanged(): Promise<void>;
}

/** One entry of a number, with its holds and a hold to place. */
function HoldForm({ station, carNumber, entry, onChanged }: Props) {
  const reason = useSignal('');
  const kind = useSignal<StopKind>('other');
  const fault = useSignal<string | undefined>(undefined);
  const done = useSignal<'sent' | 'kept' | undefined>(undefined);
  const id = `reason-${entry?.entryId ?? carNumber}`;
  const place = async () => {
    done.value = undefined;
    fault.value = undefined;
    if (reason.value.trim() === '') {
      fault.value = t('hold.reason.missing');
      document.getElementById(id)?.focus();
      return;
    }
    const { eventId } = station.event;
    const hold = { kind: kind.value, reason: reason.value.trim() };
    try {
      const order = { eventId, carNumber, entryId: entry?.entryId, hold };
      done.value = await sentOrThrow(station.stops, station.stops.hold(order));
    } catch (error) {
      fault.value = error instanceof ApiProblem ? whyNot({ kind: 'problem', error }) : String(error);
      return;
    }
    reason.value = '';
    if (done.value === 'sent') await onChanged();
  };
  return (
    <section class="panel stack" aria-label={[carNumber, entry?.runGroup].join(', ')}>
      <p>
        <strong class="car-number number">{carNumber}</strong>{' '}
        {entry !== undefined && `${entry.vehicle} · ${entry.runGroup}`}
      </p>
      <p>
        {entry === undefined ? (
          t('hold.alone')
        ) : (
          <>
            {t('outcome.gate')} <strong>{entry.reason}</strong>
          </>
        )}
      </p>
      <p role="status">{done.value !== undefined && t(done.value === 'sent' ? 'hold.done' : 'hold.kept')}</p>
      {entry !== undefined && (
        <StandingHolds key={entry.reason} station={station} entryId={entry.entryId} onLifted={onChanged} />
      )}
      <Kinds kind={kind} reason={reason} />
      <ReasonField id={id} reason={reason} fault={fault.value} />
      <div class="decisions">
        <button type="button" class="glove bad" onClick={() => void place()}>
          {t('hold.place', { number: carNumber })}
        </button>
        {entry !== undefined && <HistoryButton station={station} entryId={entry.entryId} number={carNumber} />}
      </div>
    </section>
  );
}

/** What it is held for, which decides what is looked at before it is lifted; chosen, its word is the reason. */
function Kinds({ kind, reason }: { kind: Signal<StopKind>; reason: Signal<string> }) {
  const choose = (one: StopKind) => {
    const words = KINDS.map((other) => t(`hold.kind.${other}`));
    if (reason.value === '' || words.includes(reason.value))
      reason.value = one === 'other' ? '' : t(`hold.kind.${one}`);
    kind.value = one;
  };
  return (
    <div class="kinds" role="group" aria-label={t('hold.kinds')}>
      {KINDS.map((one) => (
        <button key={one} type="button" class="glove" aria-pressed={kind.value === one} onClick={() => choose(one)}>
          {t(`hold.kind.${one}`)}
        </button>
      ))}
    </div>
  );
}

function ReasonField({ id, reason, fault }: { id: string; reason: Signal<string>; fault: string | undefined }) {
  return (
    <div>
      <label for={id}>{t('hold.reason')}</label>
      <input
        id={id}
        maxLength={300}
        value={reason.value}
        aria-invalid={fault !== undefined}
        aria-describedby={fault === undefined ? undefined : `${id}-fault`}
        onInput={(event) => {
          reason.value = event.currentTarget.value;
        }}
      />
      {fault !== undefined && (
        <p class="fault" id={`${id}-fault`} role="alert">
          {fault}
        </p>
      )}
    </div>
  );
}
