import './enrol.css';
import { useEffect, useRef, useState } from 'preact/hooks';
import { boot } from '../shared/boot.tsx';
import { Frame } from '../shared/frame.tsx';
import { defineText } from '../shared/text.ts';
import { words } from '../shared/words.ts';
import { redeem, type Redeemed } from './redeem.ts';

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
      {state.shows === 'refused' ? <Refused why={state.why} /> : <p>{t('intro')}</p>}
      {mayTry && (
        <button type="button" class="primary glove" aria-disabled={state.shows === 'working'} onClick={setUp}>
          {state.shows === 'refused' ? words.t('retry') : t('set-up')}
        </button>
      )}
      <p role="status">{state.shows === 'working' && t('working')}</p>
    </>
  );
}

function Refused({ why }: { why: Exclude<Redeemed, { ok: true }>['why'] }) {
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
