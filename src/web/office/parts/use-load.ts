import { useCallback, useEffect, useState } from 'preact/hooks';
import { type Trouble, troubleOf } from './trouble.ts';

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

/** Reads something when `key` changes and when told to. */
export function useLoad<T>(key: string, load: (signal: AbortSignal) => Promise<T>): Load<T> {
  const [state, setState] = useState<State<T>>({ key });
  const [round, setRound] = useState(0);
  useEffect(() => {
    const stop = new AbortController();
    const { signal } = stop;
    load(signal).then(
      (data) => {
        if (!signal.aborted) setState({ key, data, at: performance.now() });
      },
      (error: unknown) => {
        if (!signal.aborted) setState((old) => ({ ...(old.key === key ? old : { key }), trouble: troubleOf(error) }));
      },
    );
    return () => stop.abort();
  }, [key, round]);
  const reload = useCallback(() => setRound((count) => count + 1), []);
  const { data, trouble, at } = state.key === key ? state : { data: undefined, trouble: undefined, at: undefined };
  return { data, trouble, at, reload };
}
