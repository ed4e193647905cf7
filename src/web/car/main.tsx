import { useEffect, useState } from 'preact/hooks';
import { ApiProblem, call } from '../api/call.ts';
import { Access, leave } from '../shared/access.tsx';
import { boot, keepStorage, registerWorker } from '../shared/boot.tsx';
import { Frame } from '../shared/frame.tsx';
import { keepSession, type Session } from '../shared/session.ts';
import { locale } from '../shared/times.ts';
import { words } from '../shared/text.ts';
import { endCarLinks, makeCarLink } from '../api/operations.ts';
import { type Car, loadCar } from './car.ts';
import { Calculations } from './calculations.tsx';
import { Kept } from './kept.tsx';
import { QuestionField } from './question.tsx';
import { askedIn, countIn, SECTIONS, togetherIn } from './questions.ts';
import { text } from './text.ts';
import { text as garageText } from '../garage/text.ts';
// After the theme, which it builds on.
import './car.css';

/** The link of the car: for oneself, across events, and for the next owner. */
function Links({ car }: { car: Car }) {
  const { token, holder, role } = car.session;
  const [made, setMade] = useState<{ url: string; sold: boolean } | undefined>(undefined);
  const [failed, setFailed] = useState(false);
  const make = async (heir?: string): Promise<void> => {
    setFailed(false);
    try {
      const sold = heir !== undefined;
      const body = sold ? { holder: heir, sold: true as const } : { holder };
      const { body: link } = await call(makeCarLink, { params: { vehicleId: car.vehicleId }, body }, { token });
      // one's own link from before has ended with this one
      if (role === 'owner' && !sold) {
        car.session.token = link.token;
        keepSession('car', car.session);
      }
      setMade({ url: `${location.origin}/car#${link.token}`, sold });
    } catch {
      setFailed(true);
    }
  };
  const end = async (): Promise<void> => {
    await call(endCarLinks, { params: { vehicleId: car.vehicleId } }, { token }).catch(() => undefined);
    location.reload();
  };
  return (
    <details class="panel car-section">
      <summary>
        <h2>{t('links.title')}</h2>
      </summary>
      <div class="stack">
        <p>{t('links.means')}</p>
        <p>
          <button type="button" onClick={() => void make()}>
            {t('links.make')}
          </button>
        </p>
        {role === 'owner' && <Sold make={(heir) => void make(heir)} end={() => void end()} />}
        <div role="status">
          {failed && <p class="notice bad">{t('links.failed')}</p>}
          {made !== undefined && (
            <p class="notice good made-link">
              {made.sold ? t('links.for-heir') : t('links.made')} <a href={made.url}>{made.url}</a>
            </p>
          )}
        </div>
      </div>
    </details>
  );
}

/** Handing the car on, and taking every link back. */
function Sold({ make, end }: { make(heir: string): void; end(): void }) {
  const [heir, setHeir] = useState('');
  return (
    <form
      class="stack"
      onSubmit={(event) => {
        event.preventDefault();
        if (heir.trim() !== '') make(heir.trim());
      }}
    >
      <label>
        {t('links.heir')}
        <input type="text" maxLength={80} value={heir} onInput={(event) => setHeir(event.currentTarget.value)} />
      </label>
      <button type="submit">{t('links.sold')}</button>
      <button type="button" onClick={end}>
        {t('links.end')}
      </button>
    </form>
  );
}

const { t } = text;

type State = { kind: 'loading' } | { kind: 'failed'; why: string } | { kind: 'has'; car: Car };

/** Your car: what it is, once for all events, and its numbers worth keeping. */
function CarPage({ session }: { session: Session }) {
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
              {[...togetherIn(section), ...asked].map((one) => (
                <QuestionField key={one.paths.join(' ')} car={car} asked={one} />
              ))}
            </div>
          </details>
        );
      })}
      <Kept car={car} />
      <Calculations car={car} />
      <Links car={car} />
    </>
  );
}

/** What of this page the organizer does not have, and how old the rest is. */
function Told({ car }: { car: Car }) {
  const since = car.keptSince.value;
  const count = [...car.waiting.value, ...car.photosWaiting.value].filter(
    ({ refused }) => refused === undefined,
  ).length;
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

/** From the declaration one comes with the entrant's access, else with the link of the car. */
const isOfEntry = new URLSearchParams(location.search).has('entry');

void boot({
  // parts of the car and units have the words of the declaration
  text: { load: (language) => Promise.all([text.load(language), garageText.load(language)]) },
  title: () => text.t('title'),
  view: () => (
    <Access page={isOfEntry ? 'garage' : 'car'} title={text.t('title')}>
      {(session) => <CarPage session={session} />}
    </Access>
  ),
});
