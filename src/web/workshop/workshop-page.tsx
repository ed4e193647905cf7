import type { ComponentChildren, JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { ApiProblem, call } from '../api/call.ts';
import {
  getCalculationInputs,
  getEntry,
  getOwnToken,
  type KeptCalculation,
  listKeptCalculations,
  readSharedCalculation,
  type SharedCalculation,
} from '../api/operations.ts';
import { Frame } from '../shared/frame.tsx';
import { type Page, readSession, type Session, tokenIn } from '../shared/session.ts';
import { currentLanguage, words } from '../shared/text.ts';
import { locale } from '../shared/times.ts';
import { CalculationView } from './calculation-view.tsx';
import { Fields } from './fields.tsx';
import { formOf, GROUPS, loadForms, say } from './forms.ts';
import { ResultView, type Worked } from './result.tsx';
import { text } from './text.ts';
import { draftOf } from './values.ts';

const { t } = text;

const PAGES: readonly Page[] = ['garage', 'line', 'office', 'shop', 'car', 'gate'];

/** From where one came says whose access counts; else the first that this device has. */
function findSession(from: string | null): Session | undefined {
  const own = PAGES.find((page) => page === from);
  const wanted = own === undefined ? PAGES : [own, ...PAGES];
  return wanted.map(readSession).find((session) => session !== undefined);
}

const wantedIn = (): { name: string | undefined; keptId: string | undefined } => {
  const query = new URLSearchParams(location.search);
  return { name: query.get('do') ?? undefined, keptId: query.get('kept') ?? undefined };
};

/** What is known where this page was opened. */
interface Known {
  vehicleId?: string;
  inputs: Readonly<Record<string, Record<string, unknown>>>;
  kept: readonly KeptCalculation[];
}

async function readKnown({ token, role, entryId: own }: Session, query: URLSearchParams): Promise<Known> {
  const entryId = own ?? query.get('entry') ?? undefined;
  const vehicleId = await findVehicle({ token, role }, entryId, query.get('vehicle') ?? undefined);
  if (vehicleId === undefined) return { inputs: {}, kept: [] };
  const params = { vehicleId };
  const [{ body }, kept] = await Promise.all([
    call(
      getCalculationInputs,
      { params, query: entryId === undefined || role === 'owner' ? {} : { entryId } },
      { token },
    ),
    call(listKeptCalculations, { params }, { token }),
  ]);
  return { vehicleId, inputs: body.inputs, kept: kept.body.kept };
}

async function findVehicle(
  { token, role }: Pick<Session, 'token' | 'role'>,
  entryId: string | undefined,
  named: string | undefined,
): Promise<string | undefined> {
  if (role === 'owner') return (await call(getOwnToken, {}, { token })).body.vehicleId;
  if (entryId === undefined || role === 'shop') return role === 'shop' ? undefined : named;
  return (await call(getEntry, { params: { entryId } }, { token })).body.vehicleId;
}

/** All computations, one of them, or the one that a link shows. */
export function WorkshopPage({ secret }: { secret: string | undefined }): JSX.Element {
  const query = new URLSearchParams(location.search);
  const session = findSession(query.get('from'));
  if (secret !== undefined) return <Shared secret={secret} />;
  if (session === undefined) {
    return (
      <Frame title={t('title')}>
        <section class="panel stack">
          <h2>{t('none.title')}</h2>
          <p>{t('none')}</p>
        </section>
      </Frame>
    );
  }
  return <Own session={session} query={query} />;
}

type State = { kind: 'loading' } | { kind: 'failed'; why: string } | { kind: 'has'; known: Known; told?: string };

function Own({ session, query }: { session: Session; query: URLSearchParams }): JSX.Element {
  const [state, setState] = useState<State>({ kind: 'loading' });
  const [wanted, setWanted] = useState(wantedIn);
  useEffect(() => {
    const back = (): void => setWanted(wantedIn());
    globalThis.addEventListener('popstate', back);
    void load(session, query).then(setState);
    return () => globalThis.removeEventListener('popstate', back);
  }, []);
  const go = (change: Record<string, string | undefined>): void => {
    const next = new URLSearchParams(location.search);
    for (const [key, value] of Object.entries({ do: undefined, kept: undefined, ...change })) {
      if (value === undefined) next.delete(key);
      else next.set(key, value);
    }
    history.pushState(null, '', `${location.pathname}?${next.toString()}`);
    setWanted(wantedIn());
    globalThis.scrollTo(0, 0);
  };
  if (state.kind !== 'has') return <Waiting state={state} />;
  const { known, told } = state;
  const kept = known.kept.find(({ keptId }) => keptId === wanted.keptId);
  const name = kept?.name ?? wanted.name;
  return (
    <Frame title={t('title')}>
      {told !== undefined && (
        <p class="notice look" role="status">
          {told}
        </p>
      )}
      {name === undefined ? (
        <List known={known} go={go} />
      ) : (
        <CalculationView
          key={`${name} ${wanted.keptId}`}
          {...{ name, token: session.token, vehicleId: known.vehicleId, kept, back: () => go({}) }}
          known={kept?.body ?? known.inputs[name] ?? {}}
        />
      )}
    </Frame>
  );
}

function Waiting({ state }: { state: Exclude<State, { kind: 'has' }> }): JSX.Element {
  return (
    <Frame title={t('title')}>
      {state.kind === 'loading' ? (
        <p role="status">{words.t('loading')}</p>
      ) : (
        <p class="notice bad" role="alert">
          {state.why}
        </p>
      )}
    </Frame>
  );
}

async function load(session: Session, query: URLSearchParams): Promise<State> {
  try {
    await loadForms(currentLanguage());
  } catch {
    return { kind: 'failed', why: words.t('network.none') };
  }
  try {
    return { kind: 'has', known: await readKnown(session, query) };
  } catch (error) {
    if (error instanceof ApiProblem && error.status === 401) return { kind: 'failed', why: words.t('session.refused') };
    // the forms work without the car: then everything is typed
    return { kind: 'has', known: { inputs: {}, kept: [] }, told: t('no-car') };
  }
}

function List({ known, go }: { known: Known; go(change: Record<string, string>): void }): JSX.Element {
  const link = (change: Record<string, string>, says: string): JSX.Element => (
    <button type="button" class="link" onClick={() => go(change)}>
      {says}
    </button>
  );
  return (
    <div class="stack">
      <p>{t('intro')}</p>
      {known.kept.length > 0 && (
        <section class="panel stack" aria-labelledby="kept">
          <h2 id="kept">{t('kept')}</h2>
          <ul class="plain">
            {known.kept.map(({ keptId, name, keptAt, isShared }) => (
              <li key={keptId}>
                {link({ kept: keptId }, say(formOf(name)?.title ?? name))}{' '}
                <span class="soft">
                  {new Date(keptAt).toLocaleString(locale(), { dateStyle: 'medium', timeStyle: 'short' })}
                  {isShared && ` · ${t('kept.shared')}`}
                </span>
              </li>
            ))}
          </ul>
        </section>
      )}
      {GROUPS.map(({ id, names }) => (
        <section class="panel stack" key={id} aria-labelledby={`group-${id}`}>
          <h2 id={`group-${id}`}>{t(`group.${id}`)}</h2>
          <ul class="plain">
            {names.map((name) => (
              <li key={name}>
                {link({ do: name }, say(formOf(name)?.title ?? name))}
                {known.inputs[name] !== undefined && <span class="soft"> {t('known')}</span>}
                <br />
                {say(formOf(name)?.summary ?? '')}
              </li>
            ))}
          </ul>
        </section>
      ))}
    </div>
  );
}

/** What a link shows: nothing can be changed here. */
function Shared({ secret }: { secret: string }): JSX.Element {
  const [shown, setShown] = useState<SharedCalculation | 'loading' | 'gone' | 'failed'>('loading');
  useEffect(() => {
    Promise.all([loadForms(currentLanguage()), call(readSharedCalculation, { body: { secret } })]).then(
      ([, { body }]) => setShown(body),
      (error: unknown) => setShown(error instanceof ApiProblem && error.status < 500 ? 'gone' : 'failed'),
    );
  }, []);
  if (typeof shown === 'object') return <SharedView shown={shown} />;
  const why = shown === 'gone' ? t('shared.gone') : words.t('network.none');
  return <Waiting state={shown === 'loading' ? { kind: 'loading' } : { kind: 'failed', why }} />;
}

function SharedView({ shown: { name, body, keptAt, worked } }: { shown: SharedCalculation }): ComponentChildren {
  const form = formOf(name);
  if (form === undefined) return <Waiting state={{ kind: 'failed', why: t('shared.gone') }} />;
  const at = new Date(keptAt).toLocaleString(locale(), { dateStyle: 'medium', timeStyle: 'short' });
  return (
    <Frame title={say(form.title)}>
      <p class="notice">{t('shared.says', { at })}</p>
      <section class="panel stack" aria-labelledby="result">
        <h2 id="result">{t('result')}</h2>
        <ResultView worked={worked as unknown as Worked} body={body} />
      </section>
      <details class="panel">
        <summary>{t('shared.asked')}</summary>
        <fieldset disabled>
          <Fields
            {...{ fields: form.form, draft: draftOf(form.form, body, currentLanguage()), at: '' }}
            wrong={{ faults: {}, refused: {} }}
            change={() => undefined}
          />
        </fieldset>
      </details>
    </Frame>
  );
}

/** The secret of a link in the address, which a browser sends to nobody. It stays there: a link that was opened is opened again. */
export const secretInAddress = (): string | undefined => tokenIn(location.hash.slice(1));
