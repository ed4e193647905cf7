import { useEffect, useState } from 'preact/hooks';
import { ApiProblem } from '../api/call.ts';
import { leave } from '../shared/access.tsx';
import { keepStorage, registerWorker } from '../shared/boot.tsx';
import { Frame } from '../shared/frame.tsx';
import type { Session } from '../shared/session.ts';
import { locale } from '../shared/times.ts';
import { words } from '../shared/words.ts';
import { type Car, loadCar } from './car.ts';
import { Kept } from './kept.tsx';
import { Links } from './links.tsx';
import { QuestionField } from './question.tsx';
import { askedIn, countIn, SECTIONS } from './questions.ts';
import { text } from './text.ts';

const { t } = text;

type State = { kind: 'loading' } | { kind: 'failed'; why: string } | { kind: 'has'; car: Car };

/** Your car: what it is, once for all events, and its numbers worth keeping. */
export function CarPage({ session }: { session: Session }) {
  const [state, setState] = useState<State>({ kind: 'loading' });
  useEffect(() => {
    const until = new AbortController();
    const end = (): void => leave(session.role === 'owner' ? 'car' : 'garage');
    void loadCar(session).then(
      (car) => {
        setState(car === undefined ? { kind: 'failed', why: t('none') } : { kind: 'has', car });
        car?.keepSending(until.signal, end);
      },
      (error: unknown) => {
        if (error instanceof ApiProblem && error.status === 401) end();
        else setState({ kind: 'failed', why: words.t('network.none') });
      },
    );
    void registerWorker('car');
    void keepStorage();
    return () => until.abort();
  }, [session]);
  return (
    <Frame title={t('title')}>
      {state.kind === 'loading' && <p role="status">{words.t('loading')}</p>}
      {state.kind === 'failed' && (
        <p class="notice bad" role="alert">
          {state.why}
        </p>
      )}
      {state.kind === 'has' && <Loaded car={state.car} />}
    </Frame>
  );
}

function Loaded({ car }: { car: Car }) {
  const known = car.known.value;
  const facts = car.facts.value;
  const open = known.facts.filter(({ isConfirmed }) => !isConfirmed).length;
  return (
    <>
      <section class="panel stack" aria-labelledby="which">
        <h2 id="which">{String(facts['description'] ?? '')}</h2>
        <p>{t('intro')}</p>
        <Told car={car} />
        {open > 0 && <p class="notice look">{t('open', { count: open })}</p>}
        {car.session.entryId !== undefined && (
          <p>
            <a class="button" href="/garage">
              {t('back')}
            </a>
          </p>
        )}
      </section>
      {SECTIONS.map((section) => {
        const asked = askedIn(section, facts);
        const { given } = countIn(section, facts);
        if (asked.length === 0) return null;
        return (
          <details class="panel car-section" key={section.id} open={section.id === 'what'}>
            <summary>
              <h2>{t(`s.${section.id}` as never)}</h2>
              <span>{t('count', { given, asked: asked.length })}</span>
            </summary>
            <div class="stack">
              {asked.map((one) => (
                <QuestionField key={one.paths[0]} car={car} asked={one} />
              ))}
            </div>
          </details>
        );
      })}
      <Kept car={car} />
      <Links car={car} />
    </>
  );
}

/** What of this page the organizer does not have, and how old the rest is. */
function Told({ car }: { car: Car }) {
  const since = car.keptSince.value;
  const count = car.waiting.value.filter(({ refused }) => refused === undefined).length;
  return (
    <div role="status" class="stack">
      {since !== undefined && (
        <p class="notice look">
          {t('offline', {
            time: new Date(since).toLocaleString(locale(), { dateStyle: 'medium', timeStyle: 'short' }),
          })}
        </p>
      )}
      {count > 0 && <p class="notice look">{t('not-told.sum', { count })}</p>}
    </div>
  );
}
