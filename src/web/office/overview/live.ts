import { useEffect, useRef, useState } from 'preact/hooks';
import { followLive } from '../../shared/live.ts';
import type { Desk } from '../parts/desk.ts';

/** `live`: told of every change; `asking`: looks by itself every few seconds. */
export type Liveness = 'live' | 'asking';

/** Without the stream. */
const ASK_MS = 10_000;
/** With it: what the clock changes is told by nobody. */
const LIVE_ASK_MS = 60_000;
/** Changes that come together are read together. */
const GATHER_MS = 300;

/** Calls back when something changed at the event, and now and then without being told. */
export function useChanges({ eventId, token }: Desk, onChange: () => void): Liveness {
  const [liveness, setLiveness] = useState<Liveness>('asking');
  const latest = useRef(onChange);
  latest.current = onChange;
  useEffect(() => {
    const stop = new AbortController();
    let gathering: ReturnType<typeof setTimeout> | undefined;
    const soon = (): void => {
      gathering ??= setTimeout(() => {
        gathering = undefined;
        latest.current();
      }, GATHER_MS);
    };
    followLive({
      eventId,
      token,
      signal: stop.signal,
      changed: soon,
      missed: soon,
      connected: (open) => {
        if (!stop.signal.aborted) setLiveness(open ? 'live' : 'asking');
      },
    });
    return () => {
      stop.abort();
      clearTimeout(gathering);
    };
  }, [eventId, token]);
  useEffect(() => {
    const timer = setInterval(() => latest.current(), liveness === 'live' ? LIVE_ASK_MS : ASK_MS);
    return () => clearInterval(timer);
  }, [liveness]);
  return liveness;
}
