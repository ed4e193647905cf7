import { signal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { currentLanguage } from '../../shared/text.ts';
import type * as Pictures from '../pictures/picture.tsx';

const pictures = signal<typeof Pictures | undefined>(undefined);
let fetching: Promise<void> | undefined;

/** Drawings and tools come after what is asked is on the screen; without them the words of the question still stand. */
async function fetchPictures(): Promise<void> {
  try {
    const loaded = await import('../pictures/picture.tsx');
    await loaded.text.load(currentLanguage());
    pictures.value = loaded;
  } catch {
    // No network just now: the next question tries again.
    fetching = undefined;
  }
}

/** How an item is looked at, in pictures, with what is needed and how long it takes. */
export function HowTo({ item }: { item: string }) {
  useEffect(() => {
    fetching ??= fetchPictures();
  }, []);
  const loaded = pictures.value;
  return loaded === undefined ? null : <loaded.HowTo item={item} />;
}
