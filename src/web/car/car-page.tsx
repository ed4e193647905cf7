import { useEffect, useState } from 'preact/hooks';
import { ApiProblem } from '../api/call.ts';
import { leave } from '../shared/access.tsx';
import { Frame } from '../shared/frame.tsx';
import type { Session } from '../shared/session.ts';
import { words } from '../shared/words.ts';
import { type Car, factsOf, loadCar } from './car.ts';
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
    void loadCar(session).then(
      (car) => setState(car === undefined ? { kind: 'failed', why: t('none') } : { kind: 'has', car }),
      (error: unknown) => {
        if (error instanceof ApiProblem && error.status === 401) leave(session.role === 'owner' ? 'car' : 'garage');
        else setState({ kind: 'failed', why: words.t('network.none') });
      },
    );
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
  const facts = factsOf(known);
  const open = known.facts.filter(({ isConfirmed }) => !isConfirmed).length;
  return (
    <>
      <section class="panel stack" aria-labelledby="which">
        <h2 id="which">{String(facts['description'] ?? '')}</h2>
        <p>{t('intro')}</p>
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
