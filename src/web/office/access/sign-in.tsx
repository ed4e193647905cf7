import { useEffect, useState } from 'preact/hooks';
import { text } from '../text.ts';

const { t } = text;

/** Why somebody came back from the provider without being signed in, as the server puts it in the address. */
const REASONS = ['refused', 'nobody', 'no-event', 'again', 'away'] as const;

interface Offer {
  offered: boolean;
  name?: string;
}

/** The way into the office by an account that the organizer's people have elsewhere, where the server offers it. */
export function SignIn() {
  const [offer, setOffer] = useState<Offer>();
  const [why] = useState(reasonInAddress);
  useEffect(() => {
    void readOffer().then(setOffer);
  }, []);
  if (offer?.offered !== true) return null;
  return (
    <section class="panel stack">
      {why !== undefined && (
        <p class="notice look" role="alert">
          {t(`sign-in.${why}`)}
        </p>
      )}
      {/* Not a call: the browser itself goes to the provider and comes back. */}
      <a class="button primary" href="/sign-in">
        {offer.name === undefined ? t('sign-in.plain') : t('sign-in.with', { name: offer.name })}
      </a>
    </section>
  );
}

/** Takes the reason out of the address: it is of this once. */
function reasonInAddress(): (typeof REASONS)[number] | undefined {
  const query = new URLSearchParams(location.search);
  const said = query.get('sign-in');
  if (said === null) return undefined;
  query.delete('sign-in');
  const rest = query.toString();
  history.replaceState(null, '', location.pathname + (rest === '' ? '' : `?${rest}`) + location.hash);
  return REASONS.find((one) => one === said);
}

/** None without a network: the office needs one anyway, and says so. */
async function readOffer(): Promise<Offer> {
  try {
    const answer = await fetch('/sign-in/offer');
    return answer.ok ? ((await answer.json()) as Offer) : { offered: false };
  } catch {
    return { offered: false };
  }
}
