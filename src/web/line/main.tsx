import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { call } from '../api/call.ts';
import { type EventView, listEvents } from '../api/operations.ts';
import { Frame } from '../shared/frame.tsx';
import type { Session } from '../shared/session.ts';
import { isOn } from '../shared/times.ts';
import { words } from '../shared/text.ts';
import { Access, leave } from '../shared/access.tsx';
import { holdsText, UnsentStops } from '../shared/holds/unsent-stops.tsx';
import { noteServerTime, serverNow, startClock } from './format.ts';
import { chooseEvent, chosenEvent, go, type Route, route } from './state/route.ts';
import { openStation, polite, type Station, urgent } from './state/station.ts';
import { keep, kept } from './state/worksheet.ts';
import { text } from './text.ts';
import { CarPage } from './car/car-page.tsx';
import { OpenConditions } from './list/open-conditions.tsx';
import { HoldPage } from './decide/hold-page.tsx';
import { LineList } from './list/line-list.tsx';
import { followLine } from './state/feed.ts';
import { keepSending } from './state/sign-off.ts';
import { UnsentBanner } from './modal.tsx';
import { boot, keepStorage, registerWorker } from '../shared/boot.tsx';
import './line.css';

const VIEWS = ['line', 'hold', 'conditions'] as const;

/** One inspector's work at one event. */
function StationView({ session, event, several }: { session: Session; event: EventView; several: boolean }) {
  const station = useSignal<Station | undefined>(undefined);
  const noStorage = useSignal(false);
  useEffect(() => {
    const stopping = new AbortController();
    const begin = (opened: Station) => {
      if (stopping.signal.aborted) return;
      station.value = opened;
      followLine(opened, stopping.signal);
      keepSending(opened, stopping.signal);
      opened.stops.keepSending(stopping.signal);
    };
    openStation(session, event).then(begin, () => {
      noStorage.value = true;
    });
    return () => stopping.abort();
  }, [session, event]);
  if (noStorage.value) return <p class="notice bad">{t('storage.none')}</p>;
  if (station.value === undefined) return <p role="status">{words.t('loading')}</p>;
  return (
    <>
      {station.value.locked.value && <Locked />}
      <UnsentStops stops={station.value.stops} advice={t('hold.by-radio')} />
      <UnsentBanner station={station.value} />
      {route.value.view !== 'car' && <Views event={event} several={several} />}
      <Current station={station.value} to={route.value} />
    </>
  );
}

function Current({ station, to }: { station: Station; to: Route }) {
  switch (to.view) {
    case 'line':
      return <LineList station={station} />;
    case 'car':
      return <CarPage key={to.claimId} station={station} claimId={to.claimId} />;
    case 'hold':
      return <HoldPage station={station} />;
    case 'conditions':
      return <OpenConditions station={station} />;
  }
}

function Views({ event, several }: { event: EventView; several: boolean }) {
  return (
    <div class="stack">
      <p class="row spread">
        <strong>{event.name}</strong>
        {several && (
          <button type="button" class="glove" onClick={() => chooseEvent('choose')}>
            {t('event.other')}
          </button>
        )}
      </p>
      <nav class="views" aria-label={t('views')}>
        {VIEWS.map((view) => (
          <button
            key={view}
            type="button"
            class="glove"
            aria-current={route.value.view === view ? 'page' : undefined}
            onClick={() => go({ view })}
          >
            {t(`view.${view}`)}
          </button>
        ))}
      </nav>
    </div>
  );
}

function Locked() {
  return (
    <div class="notice bad stack" role="alert">
      <p>{words.t('session.refused')}</p>
      <p>{t('locked.kept')}</p>
      <button type="button" class="glove" onClick={() => leave('line')}>
        {words.t('session.leave')}
      </button>
    </div>
  );
}

const { t } = text;
const MAY_SIGN_OFF = ['inspector', 'chief'];

/** The inspector's page: which event, then his station. */
function LinePage({ session }: { session: Session }) {
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

void boot({
  text: { load: (language) => Promise.all([text.load(language), holdsText.load(language)]) },
  title: () => text.t('title'),
  view: () => (
    <Access page="line" title={text.t('title')}>
      {(session) => <LinePage session={session} />}
    </Access>
  ),
});
startClock();
void registerWorker('line');
void keepStorage();
