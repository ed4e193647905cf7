import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import {
  cancelEvent,
  copyEvent,
  createEvent,
  deleteEvent,
  type EventView,
  listEvents,
  listVenues,
} from '../../api/operations.ts';
import { dayAndTime, say, useLoad, useValues } from '../parts/office-context.ts';
import { Area, Form, Input, Select } from '../parts/form.tsx';
import { go, Link } from '../parts/link.tsx';
import { Loaded, Panel } from '../parts/panel.tsx';
import { fromWallClock } from '../../shared/wall-clock.ts';
import { eventDefaults } from './groups-step.tsx';
import type { StepProps } from './start.tsx';
import { startText } from './text.ts';

const { t } = startText;

/** The event: a new one, one like another, or what to do with the one that is there. */
export function EventStep(props: StepProps) {
  return props.event === undefined ? <NewEvent {...props} /> : <ThisEvent {...props} event={props.event} />;
}

function NewEvent({ token, onEvent }: StepProps) {
  const load = useLoad('new event', async (signal) => {
    const options = { token, signal };
    const [venues, events] = await Promise.all([
      call(listVenues, {}, options),
      call(listEvents, { query: { limit: 50 } }, options),
    ]);
    return { venues: venues.body.venues, events: events.body.events };
  });
  return (
    <Loaded of={load}>
      {({ venues, events }) => (
        <>
          <Panel title={t('event.title')}>
            {venues.length === 0 ? (
              <p>
                {t('event.venueFirst')}{' '}
                <Link to={{ section: 'start', step: 'venue' }} class="button">
                  {t('step.venue')}
                </Link>
              </p>
            ) : (
              <EventForm {...{ token, venues, onEvent }} />
            )}
          </Panel>
          {events.length > 0 && (
            <Panel title={t('copy.title')}>
              <CopyForm {...{ token, events, onEvent }} />
            </Panel>
          )}
        </>
      )}
    </Loaded>
  );
}

interface EventFormProps {
  token: string;
  venues: readonly { venueId: string; name: string; timeZone: string }[];
  onEvent(eventId: string): void;
}

function EventForm({ token, venues, onEvent }: EventFormProps) {
  const newest = venues.at(-1);
  const { values, set } = useValues({
    name: '',
    venueId: newest?.venueId ?? '',
    ...eventDefaults(new Date(), newest?.timeZone ?? 'UTC'),
  });
  const zone = venues.find(({ venueId }) => venueId === values.venueId)?.timeZone ?? 'UTC';
  const send = async (): Promise<void> => {
    const { name, venueId, startsOn, endsOn, opensAt, closesAt } = values;
    const body = {
      name,
      venueId,
      startsOn,
      endsOn,
      declarationsOpenAt: fromWallClock(opensAt, zone),
      declarationsCloseAt: fromWallClock(closesAt, zone),
    };
    const made = await call(createEvent, { body }, { token });
    say(t('event.made', { name }));
    onEvent(made.body.eventId);
  };
  return (
    <Form label={t('event.title')} submit={t('event.make')} onSend={send}>
      <div class="fields">
        <Input label={t('event.name')} pointer="/name" value={values.name} onValue={set('name')} />
        <Select
          label={t('step.venue')}
          pointer="/venueId"
          value={values.venueId}
          onValue={set('venueId')}
          options={venues.map(({ venueId, name }) => [venueId, name])}
        />
        {DAYS.map((name) => (
          <Input
            key={name}
            type="date"
            label={t(`event.${name}`)}
            pointer={`/${name}`}
            value={values[name]}
            onValue={set(name)}
          />
        ))}
        {WINDOW.map(([name, pointer]) => (
          <Input
            key={name}
            type="datetime-local"
            label={t(`event.${name}`)}
            hint={t('zoneOf', { zone })}
            pointer={pointer}
            value={values[name]}
            onValue={set(name)}
          />
        ))}
      </div>
    </Form>
  );
}

const DAYS = ['startsOn', 'endsOn'] as const;
const WINDOW = [
  ['opensAt', '/declarationsOpenAt'],
  ['closesAt', '/declarationsCloseAt'],
] as const;

interface CopyFormProps {
  token: string;
  events: readonly EventView[];
  onEvent(eventId: string): void;
}

/** A new event with the settings of another: venue, window, groups with their rules and limits. */
function CopyForm({ token, events, onEvent }: CopyFormProps) {
  const { values, set } = useValues({ eventId: events[0]?.eventId ?? '', name: '', startsOn: '' });
  const send = async (): Promise<void> => {
    const { eventId, name, startsOn } = values;
    const made = await call(copyEvent, { params: { eventId }, body: { name, startsOn } }, { token, timeoutMs: 60_000 });
    say(t('event.made', { name }));
    onEvent(made.body.eventId);
  };
  return (
    <Form label={t('copy.title')} submit={t('copy.make')} onSend={send}>
      <p>{t('copy.how')}</p>
      <div class="fields">
        <Select
          label={t('copy.of')}
          value={values.eventId}
          onValue={set('eventId')}
          options={events.map(({ eventId, name, startsOn }) => [eventId, `${name}, ${startsOn}`])}
        />
        <Input label={t('copy.name')} pointer="/name" value={values.name} onValue={set('name')} />
        <Input
          type="date"
          label={t('event.startsOn')}
          pointer="/startsOn"
          value={values.startsOn}
          onValue={set('startsOn')}
        />
      </div>
    </Form>
  );
}

function ThisEvent({ token, event, office, onEvent }: StepProps & { event: EventView }) {
  const { name, startsOn, endsOn, declarationsOpenAt, declarationsCloseAt, timeZone, cancelled } = event;
  return (
    <>
      <Panel title={name}>
        <p>{t('event.days', { from: startsOn, to: endsOn, zone: timeZone })}</p>
        <p>
          {t('event.window', {
            from: dayAndTime(declarationsOpenAt, timeZone),
            to: dayAndTime(declarationsCloseAt, timeZone),
          })}
        </p>
        {cancelled !== undefined && (
          <p class="notice bad">{t('cancel.was', { ...cancelled, at: dayAndTime(cancelled.at, timeZone) })}</p>
        )}
        <div class="row">
          <Link to={{ section: 'event' }} class="button">
            {t('event.change')}
          </Link>
        </div>
      </Panel>
      <Panel title={t('copy.title')}>
        <CopyForm {...{ token, events: [event], onEvent }} />
      </Panel>
      <Panel title={t('end.title')}>
        <EndOfEvent
          {...{ token, event }}
          onGone={() => {
            go({ section: 'start', event: 'new' });
            office?.reloadEvents();
          }}
          onCancelled={() => office?.reloadEvents()}
        />
      </Panel>
    </>
  );
}

interface EndProps {
  token: string;
  event: EventView;
  onGone(): void;
  onCancelled(): void;
}

/** Deletes what was made by mistake; once anything was submitted, calls the event off. */
function EndOfEvent(props: EndProps) {
  const [asking, setAsking] = useState<'delete' | 'cancel'>();
  const onStop = (): void => setAsking(undefined);
  if (asking === 'delete') return <DeleteForm {...props} onStop={onStop} />;
  if (asking === 'cancel') return <CancelForm {...props} onStop={onStop} />;
  return (
    <>
      <p>{t('end.how')}</p>
      <div class="row">
        <button type="button" onClick={() => setAsking('delete')}>
          {t('end.delete')}
        </button>
        {props.event.cancelled === undefined && (
          <button type="button" onClick={() => setAsking('cancel')}>
            {t('end.cancel')}
          </button>
        )}
      </div>
    </>
  );
}

function DeleteForm({ token, event, onGone, onStop }: EndProps & { onStop(): void }) {
  const { eventId, name } = event;
  const [inUse, setInUse] = useState(false);
  const send = async (): Promise<void> => {
    await call(deleteEvent, { params: { eventId } }, { token, timeoutMs: 60_000 });
    say(t('end.deleted', { name }));
    onGone();
  };
  return (
    <Form
      label={t('end.delete')}
      submit={t('end.delete')}
      tone="bad"
      onCancel={onStop}
      onTrouble={(trouble) => setInUse(trouble?.status === 409)}
      onSend={send}
    >
      <p>{t('end.deleteAsk', { name })}</p>
      {inUse && <p>{t('end.deleteNot')}</p>}
    </Form>
  );
}

function CancelForm({ token, event, onCancelled, onStop }: EndProps & { onStop(): void }) {
  const { eventId, name } = event;
  const [reason, setReason] = useState('');
  const send = async (): Promise<void> => {
    await call(cancelEvent, { params: { eventId }, body: { reason } }, { token });
    say(t('end.cancelled', { name }));
    onCancelled();
    onStop();
  };
  return (
    <Form label={t('end.cancel')} submit={t('end.cancel')} tone="bad" onCancel={onStop} onSend={send}>
      <p>{t('end.cancelAsk')}</p>
      <Area label={t('end.reason')} hint={t('end.reasonHint')} pointer="/reason" value={reason} onValue={setReason} />
    </Form>
  );
}
