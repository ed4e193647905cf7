import { lookAlikesOf } from '../../../domain/look-alikes.ts';
import { call } from '../../api/call.ts';
import { listGate, listRunGroups, type RunGroupView } from '../../api/operations.ts';
import { Area, Input, Select } from '../parts/form.tsx';
import { type Load, type OfficeContext, useLoad } from '../parts/office-context.ts';
import { words } from '../../shared/text.ts';
import { text } from '../text.ts';

const { t } = text;

export interface EntryValues extends Readonly<Record<string, string>> {
  carNumber: string;
  runGroupId: string;
  name: string;
  email: string;
  phone: string;
  language: string;
  people: string;
  description: string;
  colour: string;
  body: string;
  drive: string;
  powertrain: string;
  gas: string;
  disconnectAt: string;
}

interface EntryFieldsProps {
  office: OfficeContext;
  /** the number that the car has now */
  own?: string | undefined;
  values: EntryValues;
  set(name: keyof EntryValues): (value: string) => void;
  groups: readonly { runGroupId: string; name: string }[];
}

/** In which messages are written. */
export const LANGUAGES = ['en', 'de'] as const;
const BODIES = ['closed', 'open', 'targa'] as const;
const DRIVES = ['front', 'rear', 'all'] as const;
const POWERTRAINS = ['combustion', 'hybrid', 'battery'] as const;
const GASES = ['none', 'lpg', 'cng', 'hydrogen'] as const;
const unknown = () => ['', t('vehicle.unknown')] as const;

/** Who enters which car in which group; the whole record of a car comes with an import. */
export function EntryFields({ office, own, values, set, groups }: EntryFieldsProps) {
  return (
    <div class="fields">
      <Input label={t('carNumber')} pointer="/carNumber" value={values.carNumber} onValue={set('carNumber')} />
      <LooksLike office={office} number={values.carNumber.trim()} own={own} />
      <Select
        label={t('group')}
        pointer="/runGroupId"
        value={values.runGroupId}
        onValue={set('runGroupId')}
        options={groups.map(({ runGroupId, name }) => [runGroupId, name])}
      />
      <Input label={t('entrant.name')} pointer="/entrant/name" value={values.name} onValue={set('name')} />
      <Input
        type="email"
        label={t('entrant.email')}
        pointer="/entrant/email"
        value={values.email}
        onValue={set('email')}
      />
      <Input
        type="tel"
        label={t('entrant.phone')}
        pointer="/entrant/phone"
        value={values.phone}
        onValue={set('phone')}
      />
      <Select
        label={t('entrant.language')}
        pointer="/entrant/language"
        value={values.language}
        onValue={set('language')}
        options={[
          ['', t('entrant.language.unset')],
          ...LANGUAGES.map((one) => [one, words.t(`language.${one}`)] as const),
        ]}
      />
      <Area
        label={t('people.title')}
        hint={t('people.hint')}
        pointer="/people"
        value={values.people}
        onValue={set('people')}
      />
      <VehicleFields values={values} set={set} />
    </div>
  );
}

function VehicleFields({ values, set }: Pick<EntryFieldsProps, 'values' | 'set'>) {
  return (
    <>
      <Input
        label={t('vehicle.description')}
        pointer="/vehicle/description"
        value={values.description}
        onValue={set('description')}
      />
      <Input label={t('vehicle.colour')} pointer="/vehicle/colour" value={values.colour} onValue={set('colour')} />
      <Select
        label={t('vehicle.body')}
        pointer="/vehicle/body"
        value={values.body}
        onValue={set('body')}
        options={[unknown(), ...BODIES.map((one) => [one, t(`vehicle.body.${one}`)] as const)]}
      />
      <Select
        label={t('vehicle.drive')}
        pointer="/vehicle/drive"
        value={values.drive}
        onValue={set('drive')}
        options={[unknown(), ...DRIVES.map((one) => [one, t(`vehicle.drive.${one}`)] as const)]}
      />
      <Select
        label={t('vehicle.powertrain')}
        pointer="/vehicle/powertrain"
        value={values.powertrain}
        onValue={set('powertrain')}
        options={[unknown(), ...POWERTRAINS.map((one) => [one, t(`vehicle.powertrain.${one}`)] as const)]}
      />
      <Select
        label={t('vehicle.gas')}
        pointer="/vehicle/gas"
        value={values.gas}
        onValue={set('gas')}
        options={[unknown(), ...GASES.map((one) => [one, t(`vehicle.gas.${one}`)] as const)]}
      />
      <Input
        label={t('vehicle.disconnectAt')}
        pointer="/vehicle/disconnectAt"
        value={values.disconnectAt}
        onValue={set('disconnectAt')}
      />
    </>
  );
}

/** The run groups of the event. */
export function useGroups({ eventId, token }: OfficeContext): Load<readonly RunGroupView[]> {
  return useLoad(`groups ${eventId}`, async (signal) => {
    const { body } = await call(listRunGroups, { params: { eventId } }, { token, signal });
    return body.runGroups;
  });
}

/** While a number is typed: cars of the event that it can be taken for. @param own the number the car has now */
function LooksLike({ office, number, own }: { office: OfficeContext; number: string; own?: string | undefined }) {
  const { eventId, token } = office;
  const cars = useLoad(`numbers ${eventId}`, async (signal) => {
    const { body } = await call(listGate, { params: { eventId } }, { token, signal });
    return body?.entries ?? [];
  });
  const alike = lookAlikesOf(number, cars.data ?? []).filter(
    ({ kind, carNumber }) => kind !== 'swapped' && carNumber !== own,
  );
  return (
    <div role="status">
      {number !== own &&
        alike.map(({ carNumber, vehicle, colour }) => (
          <p key={carNumber} class="notice look">
            {t('looksLike', { car: [carNumber, vehicle, colour].filter((part) => part !== undefined).join(', ') })}
          </p>
        ))}
    </div>
  );
}
