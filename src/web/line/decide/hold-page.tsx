import { type Signal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { ApiProblem, call } from '../../api/call.ts';
import { type GateAnswer, getEntry, liftHold, lookUpCar } from '../../api/operations.ts';
import { KINDS, sentOrThrow, type StopKind } from '../../shared/stops.ts';
import { reasonText } from '../../shared/times.ts';
import { words } from '../../shared/text.ts';
import { LiftFields, type LiftPoint, openPointsIn, type StandingHold, useLift } from '../../shared/holds/lift.tsx';
import { Also, ByNumber } from '../list/claim-bar.tsx';
import { HistoryButton } from '../car/history-dialog.tsx';
import { ask, type Station } from '../state/station.ts';
import { text } from '../text.ts';
import { whyNot } from '../modal.tsx';
import { dayAndTime } from '../format.ts';

interface StandingHoldsProps {
  station: Station;
  entryId: string;
  onLifted(): Promise<void>;
}

/** The holds that stand on a car, each with its lift for those who may. */
function StandingHolds({ station, entryId, onLifted }: StandingHoldsProps) {
  const holds = useSignal<readonly StandingHold[]>([]);
  useEffect(() => {
    void ask(station, () => call(getEntry, { params: { entryId } }, { token: station.session.token })).then((done) => {
      if (done.ok) holds.value = done.value.body.holds;
    });
  }, [station, entryId]);
  return (
    <>
      {holds.value.map((hold) => (
        <Standing key={hold.holdId} station={station} hold={hold} onLifted={onLifted} />
      ))}
    </>
  );
}

/** Inspectors lift what an entrant said of his own car, and leaks; the rest is the chief's. */
const mayLift = ({ session }: Station, { byEntrant, kind }: StandingHold): boolean =>
  session.role === 'chief' || byEntrant || kind === 'leak';

function Standing({ station, hold, onLifted }: Omit<StandingHoldsProps, 'entryId'> & { hold: StandingHold }) {
  const lifting = useSignal(false);
  return (
    <div class="notice bad stack">
      <p>
        <strong>{hold.reason}</strong> ({t(`hold.kind.${hold.kind}`)},{' '}
        {hold.byEntrant ? t('hold.by-entrant') : hold.placedBy}, {dayAndTime(hold.placedAt, station.event.timeZone)})
      </p>
      {!mayLift(station, hold) && <p>{t('lift.chief')}</p>}
      {mayLift(station, hold) && !lifting.value && (
        <button
          type="button"
          class="glove"
          onClick={() => {
            lifting.value = true;
          }}
        >
          {t('lift.open')}
        </button>
      )}
      {lifting.value && (
        <LiftForm station={station} hold={hold} onLifted={onLifted} onCancel={() => (lifting.value = false)} />
      )}
    </div>
  );
}

interface LiftFormProps extends Omit<StandingHoldsProps, 'entryId'> {
  hold: StandingHold;
  onCancel(): void;
}

function LiftForm({ station, hold, onLifted, onCancel }: LiftFormProps) {
  const lift = useLift(hold);
  const open = useSignal<readonly LiftPoint[]>([]);
  const fault = useSignal<string | undefined>(undefined);
  const { holdId, inspectAgain } = hold;
  const id = `lift-${holdId}`;
  const send = async () => {
    open.value = [];
    fault.value = lift.reason.trim() === '' ? t('lift.missing') : undefined;
    if (fault.value !== undefined) return document.getElementById(id)?.focus();
    const { token } = station.session;
    const done = await ask(station, () => call(liftHold, { params: { holdId }, body: lift.body() }, { token }));
    if (done.ok) return onLifted();
    if (done.why.kind === 'problem') open.value = openPointsIn(done.why.error.problem);
    fault.value = open.value.length === 0 ? whyNot(done.why) : undefined;
    return undefined;
  };
  return (
    <form
      class="stack"
      aria-label={t('lift.open')}
      onSubmit={(event) => {
        event.preventDefault();
        void send();
      }}
    >
      <LiftFields lift={lift} points={inspectAgain} open={open.value} mayExcept={station.session.role === 'chief'} />
      <div>
        <label for={id}>{t('lift.reason')}</label>
        <input
          id={id}
          maxLength={300}
          value={lift.reason}
          aria-invalid={fault.value !== undefined}
          onInput={({ currentTarget }) => lift.setReason(currentTarget.value)}
        />
        <p class="fault" role="alert">
          {fault.value}
        </p>
      </div>
      <div class="decisions">
        <button type="submit" class="glove primary">
          {t('lift.open')}
        </button>
        <button type="button" class="glove" onClick={onCancel}>
          {words.t('cancel')}
        </button>
      </div>
    </form>
  );
}

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
            {t('outcome.gate')} <strong>{reasonText(entry.reason, station.event.timeZone)}</strong>
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
