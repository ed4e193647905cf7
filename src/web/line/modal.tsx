import type { ComponentChildren } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import { words } from '../shared/text.ts';
import type { Station, Why } from './state/station.ts';
import { go, route } from './state/route.ts';
import { sendAll, unsentSignOff } from './state/sign-off.ts';
import { text } from './text.ts';

const { t } = text;

interface Props {
  title: string;
  children: ComponentChildren;
  onClose(): void;
}

/** A dialog that holds the focus; Escape closes it, and the focus goes back to where it was. */
export function Modal({ title, children, onClose }: Props) {
  const dialog = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    const before = document.activeElement;
    dialog.current?.showModal();
    return () => {
      if (before instanceof HTMLElement && before.isConnected) before.focus({ preventScroll: true });
    };
  }, []);
  return (
    <dialog ref={dialog} aria-labelledby="modal-title" onClose={onClose}>
      <div class="stack">
        <h2 id="modal-title" tabIndex={-1}>
          {title}
        </h2>
        {children}
      </div>
    </dialog>
  );
}

/** Everywhere on the page: what the server does not have yet. */
export function UnsentBanner({ station }: { station: Station }) {
  const here = route.value.view === 'car' ? route.value.claimId : undefined;
  const all = station.worksheets.value.filter(({ claimId }) => unsentSignOff(station, claimId) !== undefined);
  // The page of a car says it itself.
  const claims = all.filter(({ claimId }) => claimId !== here);
  const photos = station.unsent.value.length - all.length;
  if (claims.length + photos === 0) return null;
  return (
    <section class="unsent stack" aria-label={t('unsent.title')}>
      <h2>{t('unsent.title')}</h2>
      {claims.map(({ claimId, claim, decision }) => (
        <p key={claimId}>
          {t('unsent.sign-off', { number: claim.carNumber, decision: t(`decision.${decision ?? 'refuse'}`) })}
        </p>
      ))}
      {photos > 0 && <p>{t('unsent.photos', { count: photos })}</p>}
      <div class="row">
        <button type="button" class="glove" onClick={() => void sendAll(station)}>
          {t('unsent.now')}
        </button>
        {claims.map(({ claimId, claim }) => (
          <button key={claimId} type="button" class="glove" onClick={() => go({ view: 'car', claimId })}>
            {t('unsent.look', { number: claim.carNumber })}
          </button>
        ))}
      </div>
    </section>
  );
}

/** Why something could not be done, for the person. */
export function whyNot(why: Why): string {
  if (why.kind === 'offline') return t('why.offline');
  const { problem, status } = why.error;
  if (status === 401) return words.t('session.refused');
  return problem.code === 'conflict-of-interest' ? t('why.own-car') : problem.detail;
}
