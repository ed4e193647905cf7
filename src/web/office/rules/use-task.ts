import { useEffect } from 'preact/hooks';
import { type Load, useLoad } from '../parts/use-load.ts';

const ASK_MS = 1000;

interface Task {
  state: 'waiting' | 'running' | 'done' | 'failed';
}

/** Follows work of the server until it is over. */
export function useTask<T extends Task>(key: string, read: (signal: AbortSignal) => Promise<T>): Load<T> {
  const load = useLoad(key, read);
  const open = load.data === undefined || load.data.state === 'waiting' || load.data.state === 'running';
  useEffect(() => {
    if (!open) return undefined;
    const timer = setTimeout(load.reload, ASK_MS);
    return () => clearTimeout(timer);
  }, [open, load.at, load.trouble]);
  return load;
}
