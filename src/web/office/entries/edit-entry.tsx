import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type EntryView, getEntry, type UpdateEntryInput, updateEntry } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { Form } from '../parts/form.tsx';
import { Panel } from '../parts/panel.tsx';
import { say } from '../parts/say.ts';
import type { Trouble } from '../parts/trouble.ts';
import { useValues } from '../parts/use-values.ts';
import { text } from '../text.ts';
import { entrantFrom, peopleFrom, valuesOf, vehicleFrom } from './entry-body.ts';
import { EntryFields, type EntryValues } from './entry-fields.tsx';
import { useGroups } from './use-groups.ts';

const { t } = text;

interface EditEntryProps {
  entry: EntryView;
  etag: string | undefined;
  desk: Desk;
  onDone(): void;
  onCancel(): void;
}

interface Base {
  entry: EntryView;
  etag: string | undefined;
}

/** Changes what differs from what was read; when somebody was faster, both are shown and nothing typed is lost. */
export function EditEntry({ desk, onDone, onCancel, ...read }: EditEntryProps) {
  const [base, setBase] = useState<Base>({ entry: read.entry, etag: read.etag });
  const [theirs, setTheirs] = useState<Base>();
  const { values, set, reset } = useValues(valuesOf(read.entry));
  const groups = useGroups(desk);
  const { entryId } = base.entry;
  const send = async (): Promise<void> => {
    const headers = base.etag === undefined ? {} : { 'if-match': base.etag };
    const body = changesOf(base.entry, values);
    await call(updateEntry, { params: { entryId }, headers, body }, { token: desk.token });
    say(t('entry.saved'));
    onDone();
  };
  const look = (trouble: Trouble | undefined): void => {
    if (trouble?.status !== 412) return;
    void call(getEntry, { params: { entryId } }, { token: desk.token }).then(({ body, etag }) =>
      setTheirs({ entry: body, etag }),
    );
  };
  return (
    <Panel title={t('entry.edit')}>
      <Form label={t('entry.edit')} submit={t('save')} onSend={send} onCancel={onCancel} onTrouble={look}>
        <p class="notice">{t('entry.editCaution')}</p>
        <EntryFields desk={desk} own={base.entry.carNumber} values={values} set={set} groups={groups.data ?? []} />
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
    ...(differs('name', 'email', 'phone') ? { entrant: entrantFrom(values) } : {}),
    ...(differs('people') ? { people: peopleFrom(values.people) } : {}),
    ...(differs('description', 'colour', 'body', 'drive', 'powertrain')
      ? { vehicle: vehicleFrom(values, entry.vehicle) }
      : {}),
  };
}
