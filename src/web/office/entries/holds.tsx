import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type EntryView, liftHold } from '../../api/operations.ts';
import { LiftFields, type LiftPoint, type StandingHold, useLift } from '../../shared/holds/lift.tsx';
import { KINDS, type StopKind, sentOrThrow } from '../../shared/stops.ts';
import { dayAndTime, type OfficeContext, say } from '../parts/office-context.ts';
import { Form, Input, Select } from '../parts/form.tsx';
import { Panel } from '../parts/panel.tsx';
import { text } from '../text.ts';

const { t } = text;

interface HoldsProps {
  entry: EntryView;
  office: OfficeContext;
  reload(): void;
}

/** Holds that stand, each to be lifted with a reason, and a new one. */
export function Holds({ entry, office, reload }: HoldsProps) {
  const { holds } = entry;
  return (
    <Panel title={t('holds.title', { count: holds.length })}>
      {holds.map((hold) => (
        <Standing key={hold.holdId} hold={hold} office={office} reload={reload} />
      ))}
      <NewHold entry={entry} office={office} reload={reload} />
    </Panel>
  );
}

/** A hold is on this device before it is sent, so that it takes effect also when the network is away. */
function NewHold({ entry: { eventId, entryId, carNumber }, office, reload }: HoldsProps) {
  const [reason, setReason] = useState('');
  const [kind, setKind] = useState<StopKind>('other');
  const place = async (): Promise<void> => {
    const order = { eventId, entryId, carNumber, hold: { kind, reason } };
    const sent = await sentOrThrow(office.stops, office.stops.hold(order));
    say(t(sent === 'sent' ? 'hold.placed' : 'hold.kept', { number: carNumber }));
    setReason('');
    if (sent === 'sent') reload();
  };
  return (
    <Form label={t('hold.place')} submit={t('hold.place')} tone="bad" onSend={place}>
      <Select
        label={t('hold.kinds')}
        pointer="/kind"
        value={kind}
        onValue={(chosen) => setKind(KINDS.find((one) => one === chosen) ?? 'other')}
        options={KINDS.map((one) => [one, t(`hold.kind.${one}`)])}
      />
      <Input
        label={t('hold.reason')}
        hint={t('hold.reasonHint')}
        pointer="/reason"
        value={reason}
        onValue={setReason}
      />
    </Form>
  );
}

function Standing({ hold, office, reload }: { hold: StandingHold; office: OfficeContext; reload(): void }) {
  const [lifting, setLifting] = useState(false);
  const { placedAt, placedBy, kind, byEntrant } = hold;
  return (
    <div class="notice bad stack">
      <p>
        <strong>{hold.reason}</strong>{' '}
        <span class="soft">
          {t(`hold.kind.${kind}`)}, {byEntrant && `${t('hold.by-entrant')}, `}
          {t('byAt', { who: placedBy, time: dayAndTime(placedAt, office.timeZone) })}
        </span>
      </p>
      {lifting ? (
        <Lift hold={hold} office={office} reload={reload} onCancel={() => setLifting(false)} />
      ) : (
        <div class="row">
          <button type="button" onClick={() => setLifting(true)}>
            {t('hold.lift')}
          </button>
        </div>
      )}
    </div>
  );
}

interface LiftProps {
  hold: StandingHold;
  office: OfficeContext;
  reload(): void;
  onCancel(): void;
}

function Lift({ hold, office, reload, onCancel }: LiftProps) {
  const lift = useLift(hold);
  const [open, setOpen] = useState<readonly LiftPoint[]>([]);
  const { holdId, inspectAgain } = hold;
  return (
    <Form
      label={t('hold.lift')}
      submit={t('hold.lift')}
      onCancel={onCancel}
      onTrouble={(trouble) => setOpen(trouble?.open ?? [])}
      onSend={async () => {
        await call(liftHold, { params: { holdId }, body: lift.body() }, { token: office.token });
        say(t('hold.lifted'));
        reload();
      }}
    >
      {/* The office is for organizers and chiefs, who both may do without. */}
      <LiftFields lift={lift} points={inspectAgain} open={open} mayExcept />
      <Input label={t('hold.liftReason')} pointer="/reason" value={lift.reason} onValue={lift.setReason} />
    </Form>
  );
}
