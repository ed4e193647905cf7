import { call } from '../../api/call.ts';
import { createEntry, type RunGroupView } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { Form } from '../parts/form.tsx';
import { Loaded } from '../parts/loaded.tsx';
import { Panel } from '../parts/panel.tsx';
import { say } from '../parts/say.ts';
import { useValues } from '../parts/use-values.ts';
import { text } from '../text.ts';
import { EMPTY, entrantFrom, peopleFrom, vehicleFrom } from './entry-body.ts';
import { EntryFields } from './entry-fields.tsx';
import { useGroups } from './use-groups.ts';

const { t } = text;

interface NewEntryProps {
  desk: Desk;
  /** with the id of the new entry; without one when given up */
  onDone(entryId?: string): void;
}

export function NewEntry(props: NewEntryProps) {
  const groups = useGroups(props.desk);
  return (
    <Panel title={t('entry.new')}>
      <Loaded of={groups}>{(list) => <Fields {...props} groups={list} />}</Loaded>
    </Panel>
  );
}

function Fields({ desk, onDone, groups }: NewEntryProps & { groups: readonly RunGroupView[] }) {
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
    const { eventId, token } = desk;
    const { body: entry } = await call(createEntry, { params: { eventId }, body }, { token });
    say(t('entry.created', { number: entry.carNumber }));
    onDone(entry.entryId);
  };
  return (
    <Form label={t('entry.new')} submit={t('entry.create')} onSend={send} onCancel={() => onDone()}>
      <EntryFields {...{ desk, values, set, groups }} />
    </Form>
  );
}
