import { useEffect, useState } from 'preact/hooks';
import { ApiProblem } from '../api/call.ts';
import { Frame } from '../shared/frame.tsx';
import { words } from '../shared/words.ts';
import { findEvents } from './choose-event.ts';
import type { KeptEvent } from './gate-store.ts';
import { text } from './text.ts';

const { t } = text;

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
export function EventChoice({ token, alone, kept, choose }: EventChoiceProps) {
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
