import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type GateList, listGate, type MintedToken, mintToken } from '../../api/operations.ts';
import { given, type OfficeContext, useLoad, useValues } from '../parts/office-context.ts';
import { Form, Input, Select } from '../parts/form.tsx';
import { Panel } from '../parts/panel.tsx';
import { Secret } from '../parts/secret.tsx';
import { fromWallClock } from '../../shared/wall-clock.ts';
import { text } from '../text.ts';
import { forEvent, isOfEvents, linkFor, personIdIn, type Role } from './link-sheet.tsx';

const { t } = text;
const ROLES: readonly Role[] = ['entrant', 'marshal', 'inspector', 'chief', 'organizer'];

const FIRST = { role: 'entrant', holder: '', personId: '', entryId: '', expiresAt: '' };

interface MintProps {
  office: OfficeContext;
  onMinted(): void;
}

/** A token for one person, handed out as a link. */
export function Mint({ office, onMinted }: MintProps) {
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
        options={ROLES.map((role) => [role, t(`role.${role}`)])}
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
