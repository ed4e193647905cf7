import { signal } from '@preact/signals';
import { useCallback, useEffect, useRef, useState } from 'preact/hooks';
import { oneAtATime } from '../../shared/outbox.ts';
import { currentLanguage } from '../../shared/text.ts';
import type { EventView } from '../../api/operations.ts';
import type { Session } from '../../shared/session.ts';
import type { Stops } from '../../shared/stops.ts';
import { type Trouble, troubleOf } from './panel.tsx';

const LOCALES = { en: 'en-GB', de: 'de-DE' } as const;

function format(instant: string, options: Intl.DateTimeFormatOptions): string {
  return new Intl.DateTimeFormat(LOCALES[currentLanguage()], options).format(new Date(instant));
}

/** Day and time at the venue, as the language writes it. */
export const dayAndTime = (instant: string, timeZone: string): string =>
  format(instant, { dateStyle: 'medium', timeStyle: 'short', timeZone });

/** Time of day at the venue, to the second. */
export const timeOfDay = (instant: string, timeZone: string): string =>
  format(instant, { timeStyle: 'medium', timeZone });

/** What was just done, shown at the top and read aloud. */
export const said = signal('');

export function say(text: string): void {
  said.value = text;
}

/** Who works at which event: given to every part of the office. */
export interface OfficeContext {
  session: Session;
  token: string;
  event: EventView;
  eventId: string;
  timeZone: string;
  /** cars that were stopped on this device, until the server knows */
  stops: Stops;
  /** of the event, to be told when it was changed */
  reloadEvents(): void;
}

export interface Load<T> {
  /** the newest answer; kept while it is read again, and when that fails */
  data: T | undefined;
  trouble: Trouble | undefined;
  /** `performance.now()` at the newest answer */
  at: number | undefined;
  reload(): void;
}

interface State<T> {
  key: string;
  data?: T;
  at?: number;
  trouble?: Trouble;
}

/**
 * Reads something when `key` changes and when told to. Told while it is being read, it is read once more afterwards: if each
 * telling began anew, changes that come faster than the answer would keep the page as it was.
 */
export function useLoad<T>(key: string, load: (signal: AbortSignal) => Promise<T>): Load<T> {
  const [state, setState] = useState<State<T>>({ key });
  const newest = useRef(load);
  newest.current = load;
  const ask = useRef<() => void>(() => undefined);
  useEffect(() => {
    const stop = new AbortController();
    const { signal } = stop;
    const readOnce = async (): Promise<void> => {
      try {
        const data = await newest.current(signal);
        if (!signal.aborted) setState({ key, data, at: performance.now() });
      } catch (error) {
        if (!signal.aborted) setState((old) => ({ ...(old.key === key ? old : { key }), trouble: troubleOf(error) }));
      }
    };
    const read = oneAtATime(readOnce, () => {
      if (!signal.aborted) void read();
    });
    ask.current = () => void read();
    ask.current();
    return () => stop.abort();
  }, [key]);
  const reload = useCallback(() => ask.current(), []);
  const { data, trouble, at } = state.key === key ? state : { data: undefined, trouble: undefined, at: undefined };
  return { data, trouble, at, reload };
}

/** What is typed into a form: all values, one setter per name, and all at once. */
export function useValues<T extends Readonly<Record<string, string>>>(first: T) {
  const [values, setValues] = useState(first);
  const set =
    (name: keyof T) =>
    (value: string): void =>
      setValues((old) => ({ ...old, [name]: value }));
  return { values, set, reset: (next: T = first) => setValues(next) };
}

/** Undefined for a field that was left empty. */
export const given = (value: string): string | undefined => (value.trim() === '' ? undefined : value.trim());
