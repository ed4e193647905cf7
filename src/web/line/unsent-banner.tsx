import type { Desk } from './state/desk.ts';
import { go, route } from './state/route.ts';
import { sendAll, unsentSignOff } from './state/sign-off.ts';
import { text } from './text.ts';

const { t } = text;

/** Everywhere on the page: what the server does not have yet. */
export function UnsentBanner({ desk }: { desk: Desk }) {
  const here = route.value.view === 'car' ? route.value.claimId : undefined;
  const all = desk.drafts.value.filter(({ claimId }) => unsentSignOff(desk, claimId) !== undefined);
  // The page of a car says it itself.
  const claims = all.filter(({ claimId }) => claimId !== here);
  const photos = desk.unsent.value.length - all.length;
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
        <button type="button" class="glove" onClick={() => void sendAll(desk)}>
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
