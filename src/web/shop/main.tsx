import { useEffect, useState } from 'preact/hooks';
import { ApiProblem, call } from '../api/call.ts';
import { listShopCars, renewShopToken, type ShopCar } from '../api/operations.ts';
import { boot, keepStorage, registerWorker } from '../shared/boot.tsx';
import { Frame } from '../shared/frame.tsx';
import { forgetSession, keepSession, type Session } from '../shared/session.ts';
import { locale } from '../shared/times.ts';
import { words } from '../shared/text.ts';
import { CarView } from './car-view.tsx';
import { Cars } from './cars.tsx';
import { keepCars, readForLater, readKeptCars } from './shop-sync.ts';
import { text } from './text.ts';
import { text as garageText } from '../garage/text.ts';
import { text as verdictText } from '../garage/verdict/text.ts';
import { Enter } from './enter.tsx';
// After the theme, which they build on.
import '../garage/garage.css';
import './shop.css';

const { t } = text;

type State =
  | { kind: 'loading' }
  | { kind: 'failed'; why: string }
  /** `since`: instant at which the server said so, where it cannot be asked now */
  | { kind: 'has'; cars: readonly ShopCar[]; since?: string };

const carInAddress = (): string | undefined => new URLSearchParams(location.search).get('car') ?? undefined;

/** All cars of a shop, or one of them, kept in the address so that "back" goes back. */
function ShopPage({ session, told }: { session: Session; told: string | undefined }) {
  const [shown, setShown] = useState(carInAddress);
  useEffect(() => {
    const back = (): void => setShown(carInAddress());
    globalThis.addEventListener('popstate', back);
    void registerWorker('shop');
    void keepStorage();
    return () => globalThis.removeEventListener('popstate', back);
  }, []);
  const go = (shopLinkId: string | undefined): void => {
    history.pushState(null, '', shopLinkId === undefined ? location.pathname : `?car=${shopLinkId}`);
    setShown(shopLinkId);
    globalThis.scrollTo(0, 0);
  };
  if (shown !== undefined)
    return <CarView key={shown} {...{ session, shopLinkId: shown }} back={() => go(undefined)} />;
  return <List session={session} told={told} open={go} />;
}

function List({ session, told, open }: { session: Session; told: string | undefined; open(id: string): void }) {
  const [state, setState] = useState<State>({ kind: 'loading' });
  useEffect(() => {
    const load = async (): Promise<void> => {
      const read = await readCars(session);
      setState(read);
      if (read.kind === 'has' && read.since === undefined) void readForLater(session, read.cars);
    };
    void load();
    const again = (): void => void load();
    globalThis.addEventListener('online', again);
    return () => globalThis.removeEventListener('online', again);
  }, [session]);
  return (
    <Frame title={`${t('title')} · ${session.holder}`}>
      {told !== undefined && (
        <p class="notice bad" role="alert">
          {told}
        </p>
      )}
      {state.kind === 'loading' && <p role="status">{words.t('loading')}</p>}
      {state.kind === 'failed' && (
        <p class="notice bad" role="alert">
          {state.why}
        </p>
      )}
      {state.kind === 'has' && state.since !== undefined && (
        <p class="notice look" role="status">
          {t('offline', {
            time: new Date(state.since).toLocaleString(locale(), { dateStyle: 'medium', timeStyle: 'short' }),
          })}
        </p>
      )}
      {state.kind === 'has' && <Cars cars={state.cars} open={open} />}
      <OwnLink session={session} />
    </Frame>
  );
}

/** All cars as the server lists them, or as it did last where there is no network. */
async function readCars(session: Session): Promise<State> {
  const { token, shopId = '' } = session;
  try {
    const { cars } = (await call(listShopCars, { params: { shopId } }, { token })).body;
    void keepCars({ shopId, cars, at: new Date().toISOString() });
    return { kind: 'has', cars };
  } catch (error) {
    if (error instanceof ApiProblem && error.status === 401) {
      forgetSession('shop');
      return { kind: 'failed', why: t('ended') };
    }
    const kept = await readKeptCars(shopId);
    return kept === undefined
      ? { kind: 'failed', why: words.t('network.none') }
      : { kind: 'has', cars: kept.cars, since: kept.at };
  }
}

/** The link of the shop itself: for another phone, and where one was lost. */
function OwnLink({ session }: { session: Session }) {
  const [made, setMade] = useState<string | undefined>(undefined);
  const [failed, setFailed] = useState(false);
  const make = async (): Promise<void> => {
    setFailed(false);
    try {
      const params = { shopId: session.shopId ?? '' };
      const { body } = await call(renewShopToken, { params }, { token: session.token });
      // this device keeps the new one: the one before has ended
      session.token = body.token;
      keepSession('shop', session);
      setMade(`${location.origin}/shop#${body.token}`);
    } catch {
      setFailed(true);
    }
  };
  return (
    <details class="panel no-print">
      <summary>{t('links.title')}</summary>
      <div class="stack">
        <p>{t('links.says')}</p>
        <p>
          <button type="button" onClick={() => void make()}>
            {t('links.make')}
          </button>
        </p>
        <div role="status">
          {failed && <p class="notice bad">{t('links.failed')}</p>}
          {made !== undefined && (
            <p class="notice good">
              {t('links.made')} <a href={made}>{made}</a>
            </p>
          )}
        </div>
      </div>
    </details>
  );
}

// Questions are asked as in the garage, and parts have the same names.
const all = [text, garageText, verdictText];

void boot({
  text: { load: (language) => Promise.all(all.map((one) => one.load(language))) },
  title: () => text.t('title'),
  view: () => <Enter>{(session, told) => <ShopPage session={session} told={told} />}</Enter>,
});
