import { useEffect, useState } from 'preact/hooks';
import { ApiProblem, call } from '../api/call.ts';
import { leave } from '../shared/access.tsx';
import { Frame } from '../shared/frame.tsx';
import { keepSession, type Session } from '../shared/session.ts';
import { words } from '../shared/words.ts';
import { endCarLinks, makeCarLink, type VehicleRecords } from '../api/operations.ts';
import { currentLanguage } from '../shared/text.ts';
import { type Car, factsOf, loadCar } from './car.ts';
import { QuestionField } from './question.tsx';
import { askedIn, countIn, SECTIONS } from './questions.ts';
import { text } from './text.ts';

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
      if (role === 'owner' && !sold) keepSession('car', { ...car.session, token: link.token });
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

type EventRecord = VehicleRecords['events'][number];
type Value = EventRecord['wear'][number];

const dateText = (day: string): string =>
  new Intl.DateTimeFormat(currentLanguage(), { dateStyle: 'medium', timeZone: 'UTC' }).format(
    new Date(`${day}T00:00:00Z`),
  );
const cellOf = ({ item, position, field }: Value): string => `${item}@${position ?? ''}#${field ?? ''}`;
const valueText = ({ value, unit }: Value): string =>
  typeof value === 'number'
    ? `${value.toLocaleString(currentLanguage())}${unit === undefined ? '' : ` ${unit}`}`
    : typeof value === 'string' && /^\d{4}-\d\d-\d\d$/u.test(value)
      ? dateText(value)
      : String(value);

/** Numbers worth keeping: what was last measured and how much it wore, when what was serviced, the set-up of the last event. */
function Kept({ car }: { car: Car }) {
  const [last, before] = car.records.value?.events ?? [];
  if (last === undefined) return null;
  const setUp = (car.records.value?.events ?? []).find(
    ({ setup, decision }) => setup.length > 0 && decision !== 'refuse',
  );
  return (
    <details class="panel car-section">
      <summary>
        <h2>{t('kept.title')}</h2>
        <span>{t('kept.from', { event: last.event, day: dateText(last.endsOn) })}</span>
      </summary>
      <div class="stack">
        <List title={t('kept.wear')} values={last.wear} also={(value) => wornText(value, before)} />
        <List title={t('kept.services')} values={last.services} />
        {setUp !== undefined && <List title={t('kept.setup', { day: dateText(setUp.endsOn) })} values={setUp.setup} />}
      </div>
    </details>
  );
}

function List({ title, values, also }: { title: string; values: readonly Value[]; also?: (value: Value) => string }) {
  if (values.length === 0) return null;
  return (
    <section class="stack">
      <h3>{title}</h3>
      <ul class="kept-list">
        {values.map((value) => (
          <li key={cellOf(value)}>
            {value.label}
            {value.position !== undefined && ` ${value.position}`}: <strong>{valueText(value)}</strong>
            {also?.(value)}
          </li>
        ))}
      </ul>
    </section>
  );
}

/** How much less it is than at the event before; nothing where it is more: then it is new. */
function wornText(value: Value, before: EventRecord | undefined): string {
  const earlier = before?.wear.find((one) => cellOf(one) === cellOf(value));
  if (typeof value.value !== 'number' || typeof earlier?.value !== 'number') return '';
  const worn = Math.round((earlier.value - value.value) * 100) / 100;
  return worn <= 0 ? '' : ` · ${t('kept.worn', { worn: valueText({ ...value, value: worn }) })}`;
}

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
