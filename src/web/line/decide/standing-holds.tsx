import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { getEntry, liftHold } from '../../api/operations.ts';
import { words } from '../../shared/words.ts';
import { LiftFields, type LiftPoint, openPointsIn, type StandingHold, useLift } from '../../shared/holds/lift.tsx';
import { dayAndTime } from '../format.ts';
import { ask, type Station } from '../state/station.ts';
import { text } from '../text.ts';
import { whyNot } from '../modal.tsx';

const { t } = text;

interface Props {
  station: Station;
  entryId: string;
  onLifted(): Promise<void>;
}

/** The holds that stand on a car, each with its lift for those who may. */
export function StandingHolds({ station, entryId, onLifted }: Props) {
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

function Standing({ station, hold, onLifted }: Omit<Props, 'entryId'> & { hold: StandingHold }) {
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

interface LiftFormProps extends Omit<Props, 'entryId'> {
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
