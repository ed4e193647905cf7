import { useEffect, useRef, useState } from 'preact/hooks';
import { ApiProblem, call } from '../api/call.ts';
import { redeemEnrolment } from '../api/operations.ts';
import { pinKeysAnew } from '../gate/kept/gate-store.ts';
import { boot, keepStorage } from '../shared/boot.tsx';
import { keepSession, type Page, type Session } from '../shared/session.ts';
import './enrol.css';
import { Frame } from '../shared/frame.tsx';
import { defineText, words } from '../shared/text.ts';

export type Refused = 'used' | 'expired' | 'unknown' | 'too-often' | 'network';

type Redeemed = { ok: true; page: Page; session: Session } | { ok: false; why: Refused };

/** Trades the code for the access of this device and keeps it for the page that goes with the role. */
async function redeem(code: string): Promise<Redeemed> {
  try {
    const { body } = await call(redeemEnrolment, { body: { code } });
    const session: Session = { token: body.token, role: body.role, holder: body.holder };
    const page = pageOf(body.role);
    keepSession(page, session);
    await prepare(page);
    return { ok: true, page, session };
  } catch (error) {
    return { ok: false, why: whyNot(error) };
  }
}

export function pageOf(role: Session['role']): Page {
  switch (role) {
    case 'marshal':
      return 'gate';
    case 'inspector':
    case 'chief':
      return 'line';
    case 'organizer':
      return 'office';
    case 'entrant':
      return 'garage';
    case 'owner':
      return 'car';
    case 'shop':
      return 'shop';
  }
}

/** What the device shall trust and keep. A gate that could not do it now does it at its first start. */
async function prepare(page: Page): Promise<void> {
  if (page === 'gate') await pinKeysAnew().catch(() => undefined);
  await keepStorage();
}

function whyNot(error: unknown): Refused {
  if (!(error instanceof ApiProblem)) return 'network';
  if (error.problem.code === 'enrolment-used') return 'used';
  if (error.problem.code === 'enrolment-expired') return 'expired';
  if (error.status === 429) return 'too-often';
  return error.status >= 500 ? 'network' : 'unknown';
}

const text = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });

const CODE = /^#([\w-]{10,100})$/;

/** The one-time code in the address, which a browser sends to nobody; it is taken out of the address at once. */
function takeCodeFromAddress(): string | undefined {
  const code = CODE.exec(location.hash)?.[1];
  if (location.hash !== '') history.replaceState(null, '', location.pathname + location.search);
  return code;
}
// Once per start: it is in the address only then.
const code = takeCodeFromAddress();

type State = { shows: 'ready' | 'working' } | { shows: 'refused'; why: Exclude<Redeemed, { ok: true }>['why'] };

/** Sets a device of the staff up. Looking uses nothing up: only the tap trades the code. */
function EnrolApp() {
  const [state, setState] = useState<State>({ shows: 'ready' });
  const setUp = async (): Promise<void> => {
    if (code === undefined || state.shows === 'working') return;
    setState({ shows: 'working' });
    const result = await redeem(code);
    if (result.ok) location.replace(`/${result.page}`);
    else setState({ shows: 'refused', why: result.why });
  };
  return (
    <Frame title={t('title')}>
      <section class="enrol panel stack">
        {code === undefined ? <p>{t('no-code')}</p> : <Body state={state} setUp={() => void setUp()} />}
      </section>
    </Frame>
  );
}

function Body({ state, setUp }: { state: State; setUp(): void }) {
  const mayTry = state.shows !== 'refused' || state.why === 'network' || state.why === 'too-often';
  return (
    <>
      {state.shows === 'refused' ? <RefusedPage why={state.why} /> : <p>{t('intro')}</p>}
      {mayTry && (
        <button type="button" class="primary glove" aria-disabled={state.shows === 'working'} onClick={setUp}>
          {state.shows === 'refused' ? words.t('retry') : t('set-up')}
        </button>
      )}
      <p role="status">{state.shows === 'working' && t('working')}</p>
    </>
  );
}

function RefusedPage({ why }: { why: Exclude<Redeemed, { ok: true }>['why'] }) {
  const said = useRef<HTMLParagraphElement>(null);
  useEffect(() => said.current?.focus(), [why]);
  return (
    <p class="notice bad" role="alert" tabIndex={-1} ref={said} data-why={why}>
      {t(`refused.${why}`)}
    </p>
  );
}

const { t } = text;

void boot({ text, title: () => text.t('title'), view: () => <EnrolApp /> });
