import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  approveConcession,
  type Concession,
  type EntryView,
  grantConcession,
  listConcessions,
  revokeConcession,
} from '../../api/operations.ts';
import { Fact } from '../overview/what-now.tsx';
import { dayAndTime, given, type OfficeContext, say, useLoad, useValues } from '../parts/office-context.ts';
import { Area, Check, Form, Input, Select } from '../parts/form.tsx';
import { faultsAt, Loaded, Panel, type Trouble } from '../parts/panel.tsx';
import { fromWallClock, toWallClock } from '../../shared/wall-clock.ts';
import { text } from '../text.ts';
import { type Choice, readChoices } from './rows.ts';

const { t } = text;

interface ConcessionsProps {
  entry: EntryView;
  office: OfficeContext;
  reload(): void;
  at: number;
}

/** Exceptions of an entry, whatever has become of them; the chief grants, a second person approves, either takes back. */
export function Concessions({ entry, office, reload, at }: ConcessionsProps) {
  const { entryId } = entry;
  const [granting, setGranting] = useState(false);
  const load = useLoad<readonly Concession[]>(`concessions ${entryId} ${at}`, async (signal) => {
    const { body } = await call(listConcessions, { params: { entryId } }, { token: office.token, signal });
    return body.concessions;
  });
  const mayGrant = office.session.role === 'chief' && entry.clearance.status !== 'withdrawn';
  return (
    <Panel title={t('concessions.title')}>
      <Loaded of={load}>
        {(list) => (
          <>
            {list.length === 0 && <p>{t('concessions.none')}</p>}
            {list.map((concession) => (
              <ConcessionCard key={concession.concessionId} concession={concession} office={office} reload={reload} />
            ))}
          </>
        )}
      </Loaded>
      {mayGrant && !granting && (
        <div class="row">
          <button type="button" onClick={() => setGranting(true)}>
            {t('concession.grant')}
          </button>
        </div>
      )}
      {!mayGrant && <p class="soft">{t('concession.onlyChief')}</p>}
      {granting && (
        <GrantConcession
          {...{ entry, office }}
          onDone={() => {
            setGranting(false);
            reload();
          }}
          onCancel={() => setGranting(false)}
        />
      )}
    </Panel>
  );
}

interface CardProps {
  concession: Concession;
  office: OfficeContext;
  reload(): void;
}

function ConcessionCard({ concession, office, reload }: CardProps) {
  const { ruleId, reason, condition, state, expiresAt, grantedBy, grantedAt, approvedBy, revokedBy } = concession;
  const at = (instant: string): string => dayAndTime(instant, office.timeZone);
  return (
    <div class={`notice stack ${state === 'awaiting-approval' ? 'look' : ''}`} data-state={state}>
      <p>
        <strong>{ruleId}</strong>: {t(`concession.${state}`)}
      </p>
      <p>{reason}</p>
      <dl class="facts">
        {condition !== undefined && <Fact name={t('concession.condition')} value={condition} />}
        <Fact name={t('concession.expires')} value={at(expiresAt)} />
        <Fact name={t('concession.grantedBy')} value={t('byAt', { who: grantedBy, time: at(grantedAt) })} />
        {approvedBy !== undefined && <Fact name={t('concession.approvedBy')} value={approvedBy} />}
        {revokedBy !== undefined && (
          <Fact name={t('concession.revokedBy')} value={`${revokedBy}: ${concession.revokeReason ?? ''}`} />
        )}
      </dl>
      {state === 'awaiting-approval' && <Approve {...{ concession, office, reload }} />}
      {(state === 'awaiting-approval' || state === 'in-force') && <Revoke {...{ concession, office, reload }} />}
    </div>
  );
}

/** Whoever granted it is refused by the server and told why. */
function Approve({ concession: { concessionId }, office, reload }: CardProps) {
  return (
    <Form
      label={t('concession.approve')}
      submit={t('concession.approve')}
      onSend={async () => {
        await call(approveConcession, { params: { concessionId } }, { token: office.token });
        say(t('concession.approved'));
        reload();
      }}
    >
      <p>{t('concession.secondPerson')}</p>
    </Form>
  );
}

function Revoke({ concession: { concessionId }, office, reload }: CardProps) {
  const [open, setOpen] = useState(false);
  const [reason, setReason] = useState('');
  if (!open) {
    return (
      <div class="row">
        <button type="button" onClick={() => setOpen(true)}>
          {t('concession.revoke')}
        </button>
      </div>
    );
  }
  return (
    <Form
      label={t('concession.revoke')}
      submit={t('concession.revoke')}
      tone="bad"
      onCancel={() => setOpen(false)}
      onSend={async () => {
        await call(revokeConcession, { params: { concessionId }, body: { reason } }, { token: office.token });
        say(t('concession.taken'));
        reload();
      }}
    >
      <Input label={t('concession.revokeReason')} pointer="/reason" value={reason} onValue={setReason} />
    </Form>
  );
}

interface GrantProps {
  entry: EntryView;
  office: OfficeContext;
  onDone(): void;
  onCancel(): void;
}

/** The chief's exception to one rule: first those that this car does not meet. */
function GrantConcession(props: GrantProps) {
  const { entry, office } = props;
  const load = useLoad(`choices ${entry.entryId}`, (signal) => readChoices(office, entry, signal));
  return <Loaded of={load}>{(choices) => <Fields {...props} choices={choices} />}</Loaded>;
}

function Fields({ entry, office, onDone, onCancel, choices }: GrantProps & { choices: readonly Choice[] }) {
  const { timeZone, token, event } = office;
  const { values, set } = useValues({
    ruleId: choices[0]?.ruleId ?? '',
    reason: '',
    condition: '',
    expiresAt: `${event.endsOn}T18:00`,
  });
  const [later, setLater] = useState(false);
  const [trouble, setTrouble] = useState<Trouble>();
  const send = async (): Promise<void> => {
    const condition = given(values.condition);
    const body = {
      ruleId: values.ruleId,
      reason: values.reason,
      expiresAt: fromWallClock(values.expiresAt, timeZone),
      ...(condition === undefined ? {} : { condition }),
      ...(later ? { coversLaterVersions: true } : {}),
    };
    const { body: granted } = await call(grantConcession, { params: { entryId: entry.entryId }, body }, { token });
    say(t(granted.state === 'awaiting-approval' ? 'concession.nowWaits' : 'concession.nowInForce'));
    onDone();
  };
  return (
    <Form
      label={t('concession.grant')}
      submit={t('concession.grant')}
      onSend={send}
      onCancel={onCancel}
      onTrouble={setTrouble}
    >
      <Select
        label={t('concession.rule')}
        pointer="/ruleId"
        value={values.ruleId}
        onValue={set('ruleId')}
        options={choices.map(({ ruleId, title, wrong }) => [ruleId, wrong ? t('concession.notMet', { title }) : title])}
      />
      <Area label={t('concession.reason')} pointer="/reason" value={values.reason} onValue={set('reason')} />
      <Input
        label={t('concession.condition')}
        hint={t('concession.conditionHint')}
        pointer="/condition"
        value={values.condition}
        onValue={set('condition')}
      />
      <Input
        type="datetime-local"
        label={t('concession.expires')}
        hint={t('venueTime', { zone: timeZone })}
        pointer="/expiresAt"
        value={values.expiresAt}
        onValue={set('expiresAt')}
      />
      <Latest trouble={trouble} timeZone={timeZone} onTake={set('expiresAt')} />
      <Check label={t('concession.later')} checked={later} onChecked={setLater} />
    </Form>
  );
}

/** The latest end that the server allows, to be taken over when a later one was asked for. */
function Latest({
  trouble,
  timeZone,
  onTake,
}: {
  trouble: Trouble | undefined;
  timeZone: string;
  onTake(value: string): void;
}) {
  const latest = faultsAt(trouble, '/expiresAt').find(({ latestEnd }) => latestEnd !== undefined)?.latestEnd;
  if (latest === undefined) return null;
  const clock = toWallClock(latest, timeZone);
  return (
    <div class="row">
      <button type="button" onClick={() => onTake(clock)}>
        {t('concession.takeLatest', { time: clock.replace('T', ' ') })}
      </button>
    </div>
  );
}
