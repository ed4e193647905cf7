import { useEffect, useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  createEnrolment,
  type CreateEnrolmentInput,
  type EnrolmentView,
  type GateList,
  listGate,
  type MintedToken,
  mintToken,
} from '../../api/operations.ts';
import { given, type OfficeContext, useLoad, useValues } from '../parts/office-context.ts';
import { Form, Input, Select } from '../parts/form.tsx';
import { Panel } from '../parts/panel.tsx';
import { Secret } from '../parts/secret.tsx';
import { fromWallClock } from '../../shared/wall-clock.ts';
import { text } from '../text.ts';
import { forEvent, isOfEvents, linkFor, LinkSheet, personIdIn, type Role } from './link-sheet.tsx';
import { Tokens } from './tokens.tsx';

const { t } = text;
const MINT_ROLES: readonly Role[] = ['entrant', 'marshal', 'inspector', 'chief', 'organizer'];

const FIRST = { role: 'entrant', holder: '', personId: '', entryId: '', expiresAt: '' };

interface MintProps {
  office: OfficeContext;
  onMinted(): void;
}

/** A token for one person, handed out as a link. */
function Mint({ office, onMinted }: MintProps) {
  const { eventId, token, timeZone } = office;
  const [made, setMade] = useState<MintedToken>();
  const { values, set } = useValues(FIRST);
  const cars = useLoad<GateList['entries']>(`cars ${eventId}`, async (signal) => {
    const { body } = await call(listGate, { params: { eventId } }, { token, signal });
    return body?.entries ?? [];
  });
  const send = async (): Promise<void> => {
    const { role, holder, entryId } = values;
    const end = given(values.expiresAt);
    const body = {
      role: role as Role,
      holder,
      ...(role === 'entrant' && entryId !== '' ? { entryId } : {}),
      ...(role === 'entrant' ? {} : personIdIn(values)),
      ...forEvent(role as Role, eventId),
      ...(end === undefined ? {} : { expiresAt: fromWallClock(end, timeZone) }),
    };
    setMade((await call(mintToken, { body }, { token })).body);
    onMinted();
  };
  return (
    <Panel title={t('mint.title')}>
      {isOfEvents(values.role as Role) && <p>{t('access.forEvent', { event: office.event.name })}</p>}
      <Form label={t('mint.title')} submit={t('mint.make')} onSend={send}>
        <MintFields {...{ values, set }} cars={cars.data ?? []} />
      </Form>
      {made !== undefined && (
        <Secret
          title={t('mint.for', { holder: made.holder, role: t(`role.${made.role}`) })}
          value={linkFor(made.role, made.token)}
          caution={t('mint.caution')}
          onClose={() => setMade(undefined)}
        />
      )}
    </Panel>
  );
}

interface MintFieldsProps {
  values: typeof FIRST;
  set(name: keyof typeof FIRST): (value: string) => void;
  cars: GateList['entries'];
}

function MintFields({ values, set, cars }: MintFieldsProps) {
  return (
    <div class="fields">
      <Select
        label={t('role')}
        pointer="/role"
        value={values.role}
        onValue={set('role')}
        options={MINT_ROLES.map((role) => [role, t(`role.${role}`)])}
      />
      {values.role === 'entrant' && (
        <Select
          label={t('mint.entry')}
          pointer="/entryId"
          value={values.entryId}
          onValue={set('entryId')}
          options={[
            ['', t('mint.chooseEntry')],
            ...cars.map((car) => [car.entryId, `${car.carNumber} ${car.runGroup}`] as const),
          ]}
        />
      )}
      <Input
        label={t('holder')}
        hint={t('holder.hint')}
        pointer="/holder"
        value={values.holder}
        onValue={set('holder')}
      />
      {values.role !== 'entrant' && (
        <Input
          label={t('holder.id')}
          hint={t('holder.id.hint')}
          pointer="/personId"
          value={values.personId}
          onValue={set('personId')}
        />
      )}
      <Input
        type="datetime-local"
        label={t('mint.expires')}
        hint={t('mint.expiresHint')}
        pointer="/expiresAt"
        value={values.expiresAt}
        onValue={set('expiresAt')}
      />
    </div>
  );
}

type StaffRole = CreateEnrolmentInput['role'];
const ROLES: Readonly<Record<string, readonly StaffRole[]>> = {
  organizer: ['marshal', 'inspector', 'chief', 'organizer'],
  chief: ['marshal', 'inspector'],
};

/** A one-time code for a device of the staff, to be scanned with that device. */
function Enrol({ office }: { office: OfficeContext }) {
  const [made, setMade] = useState<EnrolmentView>();
  const { values, set } = useValues({ role: 'marshal', holder: '', personId: '', minutes: '15' });
  return (
    <Panel title={t('enrol.title')}>
      <p>{t('enrol.how')}</p>
      {values.role !== 'organizer' && <p>{t('access.forEvent', { event: office.event.name })}</p>}
      <Form
        label={t('enrol.title')}
        submit={t('enrol.make')}
        onSend={async () => {
          const role = values.role as StaffRole;
          const body = {
            role,
            holder: values.holder,
            ...personIdIn(values),
            minutes: Number(values.minutes),
            ...forEvent(role, office.eventId),
          };
          setMade((await call(createEnrolment, { body }, { token: office.token })).body);
        }}
      >
        <div class="fields">
          <Select
            label={t('role')}
            pointer="/role"
            value={values.role}
            onValue={set('role')}
            options={(ROLES[office.session.role] ?? []).map((role) => [role, t(`role.${role}`)])}
          />
          <Input
            label={t('holder')}
            hint={t('holder.hint')}
            pointer="/holder"
            value={values.holder}
            onValue={set('holder')}
          />
          <Input
            label={t('holder.id')}
            hint={t('holder.id.hint')}
            pointer="/personId"
            value={values.personId}
            onValue={set('personId')}
          />
          <Input
            label={t('enrol.minutes')}
            inputMode="numeric"
            pointer="/minutes"
            value={values.minutes}
            onValue={set('minutes')}
          />
        </div>
      </Form>
      {made !== undefined && <Code made={made} onClose={() => setMade(undefined)} />}
    </Panel>
  );
}

function Code({ made, onClose }: { made: EnrolmentView; onClose(): void }) {
  return (
    <>
      <Countdown expiresAt={made.expiresAt} />
      <Secret
        title={t('enrol.for', { holder: made.holder, role: t(`role.${made.role}`) })}
        value={new URL(made.url, location.origin).href}
        caution={t('enrol.caution')}
        onClose={onClose}
      />
    </>
  );
}

/** How long the code can still be redeemed; told to screen readers only when it is over. */
function Countdown({ expiresAt }: { expiresAt: string }) {
  const [now, setNow] = useState(Date.now());
  useEffect(() => {
    const timer = setInterval(() => setNow(Date.now()), 1000);
    return () => clearInterval(timer);
  }, []);
  const seconds = Math.max(0, Math.ceil((Date.parse(expiresAt) - now) / 1000));
  if (seconds === 0) {
    return (
      <p class="notice bad" role="alert">
        {t('enrol.over')}
      </p>
    );
  }
  const clock = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, '0')}`;
  return <p class="notice number">{t('enrol.left', { clock })}</p>;
}

/** Who may do what: codes for devices, links for entrants, and all that was given out. */
export function Access({ office }: { office: OfficeContext }) {
  const [minted, setMinted] = useState(0);
  const organizer = office.session.role === 'organizer';
  const again = (): void => setMinted((count) => count + 1);
  return (
    <>
      <Enrol office={office} />
      {organizer && (
        <>
          <Mint office={office} onMinted={again} />
          <LinkSheet office={office} onMinted={again} />
          <Tokens office={office} round={minted} />
        </>
      )}
    </>
  );
}
