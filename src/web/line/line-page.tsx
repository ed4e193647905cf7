import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { call } from '../api/call.ts';
import { type EventView, listEvents } from '../api/operations.ts';
import { Frame } from '../shared/frame.tsx';
import type { Session } from '../shared/session.ts';
import { isOn } from '../shared/times.ts';
import { words } from '../shared/words.ts';
import { StationView } from './station-view.tsx';
import { noteServerTime, serverNow } from './state/clock.ts';
import { chooseEvent, chosenEvent } from './state/route.ts';
import { polite, urgent } from './state/say.ts';
import { keep, kept } from './state/worksheet.ts';
import { text } from './text.ts';

const { t } = text;
const MAY_SIGN_OFF = ['inspector', 'chief'];

/** The inspector's page: which event, then his station. */
export function LinePage({ session }: { session: Session }) {
  const events = useSignal<readonly EventView[] | undefined>(undefined);
  const failed = useSignal(false);
  useEffect(() => {
    void loadEvents(session.token).then((found) => {
      events.value = found;
      failed.value = found === undefined;
    });
  }, [session.token]);
  const found = events.value ?? [];
  const event = chooseFrom(found);
  if (!MAY_SIGN_OFF.includes(session.role)) return <WrongRole session={session} />;
  return (
    <Frame title={t('title')}>
      <Voices />
      {failed.value && <p class="notice look">{words.t('network.none')}</p>}
      {events.value === undefined && !failed.value && <p role="status">{words.t('loading')}</p>}
      {event === undefined ? (
        events.value !== undefined && <EventChoice events={found} />
      ) : (
        <StationView key={event.eventId} session={session} event={event} several={found.length > 1} />
      )}
    </Frame>
  );
}

function WrongRole({ session }: { session: Session }) {
  return (
    <Frame title={t('title')}>
      <p class="notice bad" role="alert">
        {t('role.wrong', { holder: session.holder, role: session.role })}
      </p>
    </Frame>
  );
}

/** What is told to those who do not look: always in the document, so that a change is noticed. */
function Voices() {
  return (
    <>
      <p class="unseen" role="status">
        {polite.value}
      </p>
      <p class="unseen" aria-live="assertive">
        {urgent.value}
      </p>
    </>
  );
}

function EventChoice({ events }: { events: readonly EventView[] }) {
  return (
    <section class="stack">
      <h2>{t('event.choose')}</h2>
      {events.length === 0 && <p>{t('event.none')}</p>}
      {events.map((event) => (
        <button key={event.eventId} type="button" class="glove" onClick={() => chooseEvent(event.eventId)}>
          {event.name} ({event.startsOn})
        </button>
      ))}
    </section>
  );
}

/** The one that was chosen, else the only one of today. */
function chooseFrom(events: readonly EventView[]): EventView | undefined {
  const chosen = events.find((event) => event.eventId === chosenEvent.value);
  if (chosen !== undefined || chosenEvent.value === 'choose') return chosen;
  const today = events.filter((event) => isOn(event, serverNow()));
  return today.length === 1 ? today[0] : undefined;
}

/** From the server, else what this device had last; undefined for neither. */
async function loadEvents(token: string): Promise<readonly EventView[] | undefined> {
  try {
    const { body, date } = await call(listEvents, { query: { limit: 50 } }, { token });
    noteServerTime(date);
    // The station says when a browser has no storage.
    void keep('events', body.events);
    return body.events;
  } catch {
    // No network, or a refusal that the station meets again and shows.
    return kept<readonly EventView[]>('events');
  }
}
