import type { ComponentChildren } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { ApiProblem, call } from '../api/call.ts';
import { getOwnToken, openShop, takeShopCar } from '../api/operations.ts';
import { Frame } from '../shared/frame.tsx';
import { keepSession, readSession, type Session, takeTokenFromAddress } from '../shared/session.ts';
import { words } from '../shared/text.ts';
import { text } from './text.ts';

const { t } = text;

type State =
  | { kind: 'busy' }
  | { kind: 'none'; why?: string | undefined }
  | { kind: 'named'; code: string }
  | { kind: 'has'; session: Session; told?: string };

/** The link of the shop itself begins so; everything else in an address is the code of a car. */
const isToken = (secret: string): boolean => secret.startsWith('gw_');

/**
 * Shows its content to a shop: by what this device keeps, by the link of the shop, or by the link of a first car. Further
 * cars are taken as their links are opened.
 */
export function Enter({ children }: { children(session: Session, told: string | undefined): ComponentChildren }) {
  const [state, setState] = useState<State>({ kind: 'busy' });
  useEffect(() => {
    void enter().then(setState);
  }, []);
  if (state.kind === 'has') return <>{children(state.session, state.told)}</>;
  return (
    <Frame title={t('title')}>
      {state.kind === 'busy' && <p role="status">{words.t('loading')}</p>}
      {state.kind === 'none' && (
        <section class="panel stack">
          {state.why !== undefined && (
            <p class="notice bad" role="alert">
              {state.why}
            </p>
          )}
          <h2>{t('enter.none.title')}</h2>
          <p>{t('enter.none')}</p>
        </section>
      )}
      {state.kind === 'named' && <Opening code={state.code} done={setState} />}
    </Frame>
  );
}

/** A shop that comes here first says its name. */
function Opening({ code, done }: { code: string; done(state: State): void }) {
  const [name, setName] = useState('');
  const [why, setWhy] = useState<string | undefined>(undefined);
  const [isBusy, setBusy] = useState(false);
  const open = async (): Promise<void> => {
    setBusy(true);
    try {
      const { body } = await call(openShop, { body: { code, name: name.trim() } }, {});
      const session: Session = { token: body.token, role: 'shop', holder: body.name, shopId: body.shopId };
      keepSession('shop', session);
      done({ kind: 'has', session });
    } catch (error) {
      setWhy(whyNot(error));
      setBusy(false);
    }
  };
  return (
    <form
      class="panel stack"
      onSubmit={(event) => {
        event.preventDefault();
        if (name.trim() !== '') void open();
      }}
    >
      <h2>{t('enter.title')}</h2>
      <p>{t('enter.says')}</p>
      <label>
        {t('enter.name')}
        <input
          type="text"
          autoComplete="organization"
          maxLength={80}
          required
          value={name}
          onInput={(event) => setName(event.currentTarget.value)}
        />
      </label>
      <button type="submit" class="primary" disabled={isBusy}>
        {t(isBusy ? 'enter.taking' : 'enter.open')}
      </button>
      {why !== undefined && (
        <p class="notice bad" role="alert">
          {why}
        </p>
      )}
    </form>
  );
}

async function enter(): Promise<State> {
  const secret = takeTokenFromAddress();
  const kept = readSession('shop');
  if (secret === undefined) return kept === undefined ? { kind: 'none' } : { kind: 'has', session: kept };
  if (isToken(secret)) return enterBy(secret);
  if (kept?.shopId === undefined) return { kind: 'named', code: secret };
  try {
    await call(takeShopCar, { params: { shopId: kept.shopId }, body: { code: secret } }, { token: kept.token });
    return { kind: 'has', session: kept };
  } catch (error) {
    // Who has no access any more opens the shop anew with this car; all else is told beside the cars there are.
    if (error instanceof ApiProblem && error.status === 401) return { kind: 'named', code: secret };
    return { kind: 'has', session: kept, told: whyNot(error) };
  }
}

async function enterBy(token: string): Promise<State> {
  try {
    const { body } = await call(getOwnToken, {}, { token });
    const session: Session = { token, role: body.role, holder: body.holder, shopId: body.shopId };
    if (body.shopId === undefined) return { kind: 'none', why: t('enter.unknown') };
    keepSession('shop', session);
    return { kind: 'has', session };
  } catch (error) {
    const isRefused = error instanceof ApiProblem && error.status === 401;
    return { kind: 'none', why: isRefused ? t('ended') : words.t('network.none') };
  }
}

function whyNot(error: unknown): string {
  if (!(error instanceof ApiProblem)) return words.t('network.none');
  const { code } = error.problem;
  if (code === 'enrolment-used') return t('enter.used');
  if (code === 'enrolment-expired') return t('enter.expired');
  if (error.status === 401 || code === 'not-acceptable') return t('enter.unknown');
  return t('enter.failed', { why: error.message });
}
