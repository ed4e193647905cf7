import { useEffect, useState } from 'preact/hooks';
import { ApiProblem, call } from '../api/call.ts';
import { listEvents } from '../api/operations.ts';
import { boot, keepStorage, registerWorker } from '../shared/boot.tsx';
import { Frame } from '../shared/frame.tsx';
import type { Session } from '../shared/session.ts';
import { isOn } from '../shared/times.ts';
import { words } from '../shared/text.ts';
import { GateView } from './gate-view.tsx';
import { type Gate, openGate } from './gate.ts';
import { type KeptEvent, pinKeys, readKept, writeKept } from './kept/gate-store.ts';
import { text } from './text.ts';
import { Access } from '../shared/access.tsx';
import './gate.css';

const { t } = text;

type State =
  | { shows: 'loading' }
  | { shows: 'choice'; alone: boolean; kept: KeptEvent | undefined }
  | { shows: 'gate'; gate: Gate };

/** The gate: first which event, then its numbers. A device that knows its event starts without a network. */
function GateApp({ session: { token } }: { session: Session }) {
  const [state, setState] = useState<State>({ shows: 'loading' });
  const start = async (event: KeptEvent): Promise<void> => {
    await writeKept('event', event);
    setState({ shows: 'gate', gate: await openGate({ event, token }) });
  };
  useEffect(() => {
    void registerWorker('gate');
    void keepStorage();
    // Where it fails, the first list has it tried again.
    void pinKeys().catch(() => undefined);
    void readKept('event').then((event) => {
      const serves = event !== undefined && (isOn(event, new Date()) || !navigator.onLine);
      return serves ? start(event) : setState({ shows: 'choice', alone: true, kept: event });
    });
  }, [token]);
  if (state.shows === 'gate') {
    const { gate } = state;
    return <GateView gate={gate} otherEvent={() => setState({ shows: 'choice', alone: false, kept: gate.event })} />;
  }
  if (state.shows === 'choice') {
    return <EventChoice token={token} alone={state.alone} kept={state.kept} choose={(event) => void start(event)} />;
  }
  return (
    <Frame title={text.t('title')}>
      <p role="status">{words.t('loading')}</p>
    </Frame>
  );
}

type Found = Awaited<ReturnType<typeof findEvents>>;

interface EventChoiceProps {
  token: string;
  /** whether the only event of today is taken without asking */
  alone: boolean;
  /** the event of last time, for a start without a network */
  kept: KeptEvent | undefined;
  choose(event: KeptEvent): void;
}

/** Which event the gate is for: the one of today, or a choice of large buttons. */
function EventChoice({ token, alone, kept, choose }: EventChoiceProps) {
  const [found, setFound] = useState<Found | 'asking' | 'no-network' | 'no-access'>('asking');
  const [tries, setTries] = useState(0);
  useEffect(() => {
    setFound('asking');
    findEvents(token).then(
      (result) => {
        const [only, ...others] = result.events;
        if (alone && result.today && only !== undefined && others.length === 0) choose(only);
        else setFound(result);
      },
      (error: unknown) => setFound(error instanceof ApiProblem && error.status < 500 ? 'no-access' : 'no-network'),
    );
  }, [token, alone, tries]);
  return (
    <Frame title={t('title')}>
      {found === 'asking' && <p role="status">{words.t('loading')}</p>}
      {found === 'no-access' && <p role="alert">{words.t('session.refused')}</p>}
      {found === 'no-network' && (
        <div class="stack" role="alert">
          <p>{t('event.network')}</p>
          <button type="button" class="primary glove" onClick={() => setTries(tries + 1)}>
            {words.t('retry')}
          </button>
          {kept !== undefined && (
            <button type="button" class="glove" onClick={() => choose(kept)}>
              {t('event.kept')}: {kept.name}
            </button>
          )}
        </div>
      )}
      {typeof found === 'object' && <Choices found={found} choose={choose} />}
    </Frame>
  );
}

function Choices({ found, choose }: { found: Found; choose(event: KeptEvent): void }) {
  return (
    <section class="stack">
      <h2>{t('event.choose')}</h2>
      <p>{found.events.length === 0 ? t('event.none') : found.today ? t('event.several') : t('event.not-today')}</p>
      {found.events.map((event) => (
        <button key={event.eventId} type="button" class="glove" onClick={() => choose(event)}>
          {event.name} ({event.startsOn === event.endsOn ? event.startsOn : `${event.startsOn} – ${event.endsOn}`})
        </button>
      ))}
    </section>
  );
}

/** The events that a gate may be for: those of today at their venues, or else all, the nearest first. */
async function findEvents(token: string): Promise<{ today: boolean; events: readonly KeptEvent[] }> {
  const { body } = await call(listEvents, { query: { limit: 100 } }, { token });
  const now = new Date();
  const events = body.events.map(({ eventId, name, timeZone, startsOn, endsOn }) => ({
    eventId,
    name,
    timeZone,
    startsOn,
    endsOn,
  }));
  const today = events.filter((event) => isOn(event, now));
  return today.length > 0 ? { today: true, events: today } : { today: false, events: nearest(events, now) };
}

function nearest(events: readonly KeptEvent[], now: Date): readonly KeptEvent[] {
  const away = ({ startsOn }: KeptEvent) => Math.abs(Date.parse(startsOn) - now.getTime());
  return [...events].sort((a, b) => away(a) - away(b)).slice(0, 8);
}

void boot({
  text,
  title: () => text.t('title'),
  view: () => (
    <Access page="gate" title={text.t('title')}>
      {(session) => <GateApp session={session} />}
    </Access>
  ),
});
