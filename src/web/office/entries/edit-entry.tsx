import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  createEntry,
  type CreateEntryInput,
  type EntryView,
  getEntry,
  type RunGroupView,
  updateEntry,
  type UpdateEntryInput,
} from '../../api/operations.ts';
import { given, type OfficeContext, say, useValues } from '../parts/office-context.ts';
import { Form } from '../parts/form.tsx';
import { Loaded, Panel, type Trouble } from '../parts/panel.tsx';
import { text } from '../text.ts';
import { EntryFields, type EntryValues, LANGUAGES, useGroups } from './entry-fields.tsx';

export const EMPTY: EntryValues = {
  carNumber: '',
  runGroupId: '',
  name: '',
  email: '',
  phone: '',
  language: '',
  people: '',
  description: '',
  colour: '',
  body: '',
  drive: '',
  powertrain: '',
  gas: '',
  disconnectAt: '',
};

const VEHICLE = ['description', 'colour', 'body', 'drive', 'powertrain', 'gas', 'disconnectAt'] as const;
const ROLES = ['driver', 'crew', 'preparer'] as const;
type Person = NonNullable<CreateEntryInput['people']>[number];

const textOf = (value: unknown): string => (typeof value === 'string' ? value : '');

/** People as they are typed, one a line: `Name`, or `crew: Name`. Who is named without a role drives. */
export function peopleFrom(typed: string): readonly Person[] {
  return typed
    .split('\n')
    .map((line) => line.trim())
    .filter((line) => line !== '')
    .map((line) => {
      const [before = '', ...after] = line.split(':');
      const role = ROLES.find((one) => one === before.trim().toLowerCase());
      return role === undefined ? { name: line, role: 'driver' } : { name: after.join(':').trim(), role };
    });
}

/** Whoever was named before, by name and role, keeps the id of the organizer's own list. */
function withIds(people: readonly Person[], before: EntryView['people']): readonly Person[] {
  return people.map((person) => {
    const known = before.find(({ name, role }) => name === person.name && role === person.role);
    return known?.personId === undefined ? person : { ...person, personId: known.personId };
  });
}

function valuesOf({ carNumber, runGroupId, entrant, people, vehicle }: EntryView): EntryValues {
  const car = Object.fromEntries(VEHICLE.map((name) => [name, textOf(vehicle[name])]));
  return {
    ...EMPTY,
    carNumber,
    runGroupId,
    name: entrant.name,
    email: entrant.email ?? '',
    phone: entrant.phone ?? '',
    language: entrant.language ?? '',
    people: people.map(({ name, role }) => `${role}: ${name}`).join('\n'),
    ...car,
  };
}

/** @param before as it is kept: whoever keeps the name keeps the id of the organizer's own list */
export function entrantFrom(
  { name, email, phone, language }: EntryValues,
  before?: EntryView['entrant'],
): CreateEntryInput['entrant'] {
  const chosen = LANGUAGES.find((one) => one === language);
  const isSame = before?.personId !== undefined && before.name === name.trim();
  return {
    name: name.trim(),
    ...optional('email', email),
    ...optional('phone', phone),
    ...(chosen === undefined ? {} : { language: chosen }),
    ...(isSame ? { personId: before.personId } : {}),
  };
}

/** The record of the car with what was typed; what the form does not show stays as it was. */
export function vehicleFrom(
  values: EntryValues,
  before: Readonly<Record<string, unknown>> = {},
): NonNullable<CreateEntryInput['vehicle']> {
  const changed: Record<string, unknown> = { ...before };
  for (const name of VEHICLE) {
    const value = given(values[name] ?? '');
    if (value === undefined) delete changed[name];
    else changed[name] = value;
  }
  // The server looks at every member and names what it does not take.
  return changed as NonNullable<CreateEntryInput['vehicle']>;
}

const optional = <K extends string>(name: K, value: string): { [P in K]?: string } => {
  const kept = given(value);
  return (kept === undefined ? {} : { [name]: kept }) as { [P in K]?: string };
};

const { t } = text;

interface EditEntryProps {
  entry: EntryView;
  etag: string | undefined;
  office: OfficeContext;
  onDone(): void;
  onCancel(): void;
}

interface Base {
  entry: EntryView;
  etag: string | undefined;
}

/** Changes what differs from what was read; when somebody was faster, both are shown and nothing typed is lost. */
export function EditEntry({ office, onDone, onCancel, ...read }: EditEntryProps) {
  const [base, setBase] = useState<Base>({ entry: read.entry, etag: read.etag });
  const [theirs, setTheirs] = useState<Base>();
  const { values, set, reset } = useValues(valuesOf(read.entry));
  const groups = useGroups(office);
  const { entryId } = base.entry;
  const send = async (): Promise<void> => {
    const headers = base.etag === undefined ? {} : { 'if-match': base.etag };
    const body = changesOf(base.entry, values);
    await call(updateEntry, { params: { entryId }, headers, body }, { token: office.token });
    say(t('entry.saved'));
    onDone();
  };
  const look = (trouble: Trouble | undefined): void => {
    if (trouble?.status !== 412) return;
    void call(getEntry, { params: { entryId } }, { token: office.token }).then(({ body, etag }) =>
      setTheirs({ entry: body, etag }),
    );
  };
  return (
    <Panel title={t('entry.edit')}>
      <Form label={t('entry.edit')} submit={t('save')} onSend={send} onCancel={onCancel} onTrouble={look}>
        <p class="notice">{t('entry.editCaution')}</p>
        <EntryFields office={office} own={base.entry.carNumber} values={values} set={set} groups={groups.data ?? []} />
      </Form>
      {theirs !== undefined && (
        <Conflict
          mine={values}
          theirs={valuesOf(theirs.entry)}
          onKeep={() => {
            reset(merged({ before: valuesOf(base.entry), mine: values, theirs: valuesOf(theirs.entry) }));
            setBase(theirs);
            setTheirs(undefined);
          }}
        />
      )}
    </Panel>
  );
}

/** What was saved by somebody else beside what is typed here. */
function Conflict({ mine, theirs, onKeep }: { mine: EntryValues; theirs: EntryValues; onKeep(): void }) {
  const differing = Object.keys(mine).filter((name) => mine[name] !== theirs[name]);
  return (
    <div class="notice look stack" role="alert">
      <p>{t('conflict.title')}</p>
      <ul>
        {differing.map((name) => (
          <li key={name}>
            <code>{name}</code>: {t('conflict.saved', { value: theirs[name] ?? '' })};{' '}
            {t('conflict.yours', { value: mine[name] ?? '' })}
          </li>
        ))}
      </ul>
      <div class="row">
        <button type="button" onClick={onKeep}>
          {t('conflict.keep')}
        </button>
      </div>
    </div>
  );
}

/** What was typed here, and where nothing was, what somebody else saved. */
function merged({ before, mine, theirs }: Record<'before' | 'mine' | 'theirs', EntryValues>): EntryValues {
  const touched = Object.entries(mine).filter(([name, value]) => value !== before[name]);
  return { ...theirs, ...Object.fromEntries(touched) };
}

/** Only what is different: an unchanged car in a change would void nothing, but says less in the history. */
function changesOf(entry: EntryView, values: EntryValues): UpdateEntryInput {
  const before = valuesOf(entry);
  const differs = (...names: readonly string[]): boolean => names.some((name) => before[name] !== values[name]);
  return {
    ...(differs('carNumber') ? { carNumber: values.carNumber.trim() } : {}),
    ...(differs('runGroupId') ? { runGroupId: values.runGroupId } : {}),
    ...(differs('name', 'email', 'phone', 'language') ? { entrant: entrantFrom(values, entry.entrant) } : {}),
    ...(differs('people') ? { people: withIds(peopleFrom(values.people), entry.people) } : {}),
    ...(differs(...VEHICLE) ? { vehicle: vehicleFrom(values, entry.vehicle) } : {}),
  };
}

interface NewEntryProps {
  office: OfficeContext;
  /** with the id of the new entry; without one when given up */
  onDone(entryId?: string): void;
}

export function NewEntry(props: NewEntryProps) {
  const groups = useGroups(props.office);
  return (
    <Panel title={t('entry.new')}>
      <Loaded of={groups}>{(list) => <Fields {...props} groups={list} />}</Loaded>
    </Panel>
  );
}

function Fields({ office, onDone, groups }: NewEntryProps & { groups: readonly RunGroupView[] }) {
  const { values, set } = useValues({ ...EMPTY, runGroupId: groups[0]?.runGroupId ?? '' });
  const send = async (): Promise<void> => {
    const people = peopleFrom(values.people);
    const body = {
      carNumber: values.carNumber.trim(),
      runGroupId: values.runGroupId,
      entrant: entrantFrom(values),
      vehicle: vehicleFrom(values),
      ...(people.length === 0 ? {} : { people }),
    };
    const { eventId, token } = office;
    const { body: entry } = await call(createEntry, { params: { eventId }, body }, { token });
    say(t('entry.created', { number: entry.carNumber }));
    onDone(entry.entryId);
  };
  return (
    <Form label={t('entry.new')} submit={t('entry.create')} onSend={send} onCancel={() => onDone()}>
      <EntryFields {...{ office, values, set, groups }} />
    </Form>
  );
}
