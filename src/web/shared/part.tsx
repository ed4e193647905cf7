import type { ComponentChildren } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { currentLanguage, type Language, words } from './text.ts';

interface PartProps<T> {
  load(): Promise<T & { text: { load(language: Language): Promise<void> } }>;
  /** of the heading that gets the focus once it is there */
  heading?: string;
  children(part: T): ComponentChildren;
}

/** A part of a page that is fetched, with its texts, when somebody goes there: it does not make the first load longer. */
export function Part<T>({ load, heading, children }: PartProps<T>) {
  const [part, setPart] = useState<{ loaded: T } | 'loading' | 'failed'>('loading');
  const [round, setRound] = useState(0);
  useEffect(() => {
    let isGone = false;
    const get = async (): Promise<void> => {
      const loaded = await load();
      await loaded.text.load(currentLanguage());
      if (!isGone) setPart({ loaded });
    };
    get().catch(() => {
      if (!isGone) setPart('failed');
    });
    return () => {
      isGone = true;
    };
  }, [round]);
  const isThere = typeof part === 'object';
  useEffect(() => {
    // Whoever came here meanwhile went on reading somewhere else: then the focus stays.
    const isFree = document.activeElement === null || document.activeElement === document.body;
    if (isThere && isFree && heading !== undefined) document.getElementById(heading)?.focus();
  }, [isThere, heading]);
  if (typeof part === 'object') return <>{children(part.loaded)}</>;
  if (part === 'loading') return <p role="status">{words.t('loading')}</p>;
  return (
    <div class="notice bad row" role="alert">
      <span>{words.t('network.none')}</span>
      <button type="button" onClick={() => setRound((before) => before + 1)}>
        {words.t('retry')}
      </button>
    </div>
  );
}
