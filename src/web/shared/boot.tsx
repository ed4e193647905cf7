import { signal } from '@preact/signals';
import { type ComponentChild, render } from 'preact';
import { applyTheme, NotKept } from './frame.tsx';
import { currentLanguage, type Language, words } from './text.ts';
import './theme.css';

/** Whether a newer version of the page has been fetched; it starts when every window of the page was closed. */
export const updateWaits = signal(false);

/** The version of the page that runs; undefined when it was not built. */
export const version = (): string | undefined =>
  document.querySelector<HTMLMetaElement>('meta[name="version"]')?.content;

/** Has the page kept for the time without a network. A browser that cannot do that shows the page all the same. */
export async function registerWorker(page: 'gate' | 'garage' | 'line' | 'car' | 'shop'): Promise<void> {
  if (!('serviceWorker' in navigator)) return;
  try {
    const found = await navigator.serviceWorker.register(`/worker.js?page=${page}`, { scope: `/${page}` });
    updateWaits.value = found.waiting !== null;
    found.addEventListener('updatefound', () => {
      found.installing?.addEventListener('statechange', () => {
        updateWaits.value = found.waiting !== null;
      });
    });
    // The network may go while the files come: then there is none yet, and nobody would try again.
    const { installing } = found;
    installing?.addEventListener('statechange', () => {
      if (installing.state === 'redundant' && found.active === null) onceOnline(() => void registerWorker(page));
    });
  } catch {
    // No secure context, or no network just now: then when there is one, else at the next start.
    if (!navigator.onLine) onceOnline(() => void registerWorker(page));
  }
}

function onceOnline(then: () => void): void {
  addEventListener('online', then, { once: true });
}

/** Asks the browser not to clear what this device keeps. @returns whether it promised */
export async function keepStorage(): Promise<boolean> {
  try {
    return (await navigator.storage.persisted()) || (await navigator.storage.persist());
  } catch {
    // A browser without the promise keeps it as long as it likes; the page looks at each start what is there.
    return false;
  }
}

interface Start {
  /** texts of the page, to be loaded before it is drawn */
  text: { load(language: Language): Promise<unknown> };
  title(): string;
  view(): ComponentChild;
}

/** Starts a page: language and display as this device chose them, then the view. */
export async function boot({ text, title, view }: Start): Promise<void> {
  const language = currentLanguage();
  applyTheme();
  await Promise.all([words.load(language), text.load(language)]);
  document.documentElement.lang = language;
  document.title = title();
  const app = document.querySelector('#app');
  if (app === null) throw new Error('the page has no #app');
  render(
    <>
      <NotKept />
      {view()}
    </>,
    app,
  );
}
