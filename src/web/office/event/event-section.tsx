import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { changeRunGroup, getEvent, getRunGroup, type RunGroupView } from '../../api/operations.ts';
import { useGroups } from '../entries/entry-fields.tsx';
import { type OfficeContext, say, useLoad, useValues } from '../parts/office-context.ts';
import { Form, Input } from '../parts/form.tsx';
import { Loaded, Panel } from '../parts/panel.tsx';
import { fromWallClock, toWallClock } from '../../shared/wall-clock.ts';
import { text } from '../text.ts';
import { TimetableForm } from './timetable.tsx';
import { EventForm } from './event-form.tsx';
import { InstrumentsForm } from './instruments.tsx';

const { t } = text;

/** Dates and window of the event, and when its groups first go on track. */
export function EventSection({ office }: { office: OfficeContext }) {
  const { eventId, token } = office;
  const load = useLoad(`event ${eventId}`, async (signal) => {
    const { body, etag } = await call(getEvent, { params: { eventId } }, { token, signal });
    return { event: body, etag };
  });
  const groups = useGroups(office);
  // what one of the two forms saved is what the other one starts from
  const [tag, setTag] = useState<string>();
  return (
    <>
      <Panel title={t('event.basics')}>
        <Loaded of={load}>
          {({ event, etag }) => (
            <EventForm
              {...{ event, office }}
              etag={tag ?? etag}
              onSaved={(saved) => {
                setTag(saved);
                load.reload();
              }}
            />
          )}
        </Loaded>
      </Panel>
      <Panel title={t('instruments')}>
        <Loaded of={load}>
          {({ event, etag }) => (
            <InstrumentsForm
              {...{ eventId, office }}
              instruments={event.instruments}
              etag={tag ?? etag}
              onSaved={setTag}
            />
          )}
        </Loaded>
      </Panel>
      <Panel title={t('event.groups')}>
        <Loaded of={groups}>
          {(list) => list.map((group) => <GroupForm key={group.runGroupId} first={group} office={office} />)}
        </Loaded>
      </Panel>
    </>
  );
}

/** Name, place in lists and first session of a group; its rules are changed where they can be tried first. */
function GroupForm({ first, office }: { first: RunGroupView; office: OfficeContext }) {
  const { timeZone, token } = office;
  const params = { eventId: first.eventId, runGroupId: first.runGroupId };
  const [open, setOpen] = useState(false);
  const [etag, setETag] = useState<string>();
  const [sessions, setSessions] = useState(first.sessions);
  const { values, set } = useValues({
    name: first.name,
    order: String(first.order),
    firstSessionAt: toWallClock(first.firstSessionAt, timeZone),
  });
  const load = useLoad(`group tag ${first.runGroupId}`, async (signal) => {
    return { etag: (await call(getRunGroup, { params }, { token, signal })).etag };
  });
  const send = async (): Promise<void> => {
    const body = {
      name: values.name,
      order: Number(values.order),
      // With a timetable the first session is its first one.
      ...(sessions.length > 0 ? {} : { firstSessionAt: fromWallClock(values.firstSessionAt, timeZone) }),
    };
    const tag = etag ?? load.data?.etag;
    const headers = tag === undefined ? {} : { 'if-match': tag };
    const saved = await call(changeRunGroup, { params, headers, body }, { token });
    setETag(saved.etag);
    say(t('group.saved', { name: values.name }));
  };
  return (
    <details open={open} onToggle={({ currentTarget }) => setOpen(currentTarget.open)}>
      <summary>{values.name}</summary>
      {!first.firstSessionOnEventDay && <p class="notice look">{t('group.notOnDay')}</p>}
      <Form
        label={t('group.form', { name: first.name })}
        submit={t('save')}
        onSend={send}
        onTrouble={(trouble) => {
          // The next press saves over what was changed meanwhile; the refusal on screen says that it was.
          if (trouble?.status === 412) setETag(trouble.etag);
        }}
      >
        <GroupFields values={values} set={set} timeZone={timeZone} hasTimetable={sessions.length > 0} />
      </Form>
      {open && (
        <TimetableForm
          group={first}
          office={office}
          etag={etag ?? load.data?.etag}
          onSaved={(now, tag) => {
            setSessions(now);
            setETag(tag);
          }}
        />
      )}
    </details>
  );
}

interface GroupValues {
  name: string;
  order: string;
  firstSessionAt: string;
}

interface GroupFieldsProps {
  values: GroupValues;
  set(key: keyof GroupValues): (value: string) => void;
  timeZone: string;
  /** then its first session is that of the group */
  hasTimetable: boolean;
}

function GroupFields({ values, set, timeZone, hasTimetable }: GroupFieldsProps) {
  return (
    <div class="fields">
      <Input label={t('group.name')} pointer="/name" value={values.name} onValue={set('name')} />
      <Input
        label={t('group.order')}
        inputMode="numeric"
        pointer="/order"
        value={values.order}
        onValue={set('order')}
      />
      {!hasTimetable && (
        <Input
          type="datetime-local"
          label={t('group.firstSession')}
          hint={t('venueTime', { zone: timeZone })}
          pointer="/firstSessionAt"
          value={values.firstSessionAt}
          onValue={set('firstSessionAt')}
        />
      )}
    </div>
  );
}
