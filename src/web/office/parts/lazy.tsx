import type { ComponentChildren } from 'preact';
import { currentLanguage, type Language } from '../../shared/text.ts';
import { Loaded } from './panel.tsx';
import { useLoad } from './office-context.ts';

interface LazyProps<T> {
  /** of the part, one for each */
  name: string;
  load(): Promise<T & { text: { load(language: Language): Promise<void> } }>;
  children(part: T): ComponentChildren;
}

/** A part of the office that is fetched, with its texts, when somebody goes there: what is seldom used costs nobody else. */
export function Lazy<T>({ name, load, children }: LazyProps<T>) {
  const part = useLoad<T>(`part ${name}`, async () => {
    const loaded = await load();
    await loaded.text.load(currentLanguage());
    return loaded;
  });
  return <Loaded of={part}>{children}</Loaded>;
}
