import type { Contact } from './contact.ts';
import type { TrustedClock } from './trusted-clock.ts';

const EVERY_MS = 15_000;
/** While there is no contact the server is looked for more often: what comes back is wanted at once. */
const SEARCH_MS = 5000;

interface Kept {
  sync(): Promise<void>;
  contact: { value: Contact };
  clock: TrustedClock;
}

/** Asks again and again while the page is seen, and at once when something says that it may work now. @returns the end of it */
export function keepInTouch({ sync, contact, clock }: Kept): () => void {
  let timer: ReturnType<typeof setTimeout> | undefined;
  const again = () => {
    clearTimeout(timer);
    timer = setTimeout(turn, contact.value === 'offline' ? SEARCH_MS : EVERY_MS);
  };
  const turn = () => {
    clock.jumped();
    void (document.visibilityState === 'visible' ? sync() : Promise.resolve()).finally(again);
  };
  const onVisibility = () => {
    if (document.visibilityState === 'hidden') clock.hidden();
    else turn();
  };
  const onOffline = () => {
    if (contact.value !== 'no-access') contact.value = 'offline';
  };
  document.addEventListener('visibilitychange', onVisibility);
  addEventListener('online', turn);
  addEventListener('offline', onOffline);
  turn();
  return () => {
    clearTimeout(timer);
    document.removeEventListener('visibilitychange', onVisibility);
    removeEventListener('online', turn);
    removeEventListener('offline', onOffline);
  };
}
