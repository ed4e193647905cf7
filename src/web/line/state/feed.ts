import { call } from '../../api/call.ts';
import { getLine } from '../../api/operations.ts';
import { followLive } from '../../shared/live.ts';
import { ask, type Desk } from './desk.ts';
import { keep } from './store.ts';

/** Without the stream, and for the forecasts, which change by themselves. */
const POLL_MS = 10_000;
/** Changes that come together are read together. */
const GATHER_MS = 250;

/** Keeps the line on the screen up to date until the signal. */
export function followLine(desk: Desk, signal: AbortSignal): void {
  const { eventId } = desk.event;
  const { token } = desk.session;
  let timer: ReturnType<typeof setTimeout> | undefined;
  const soon = (milliseconds: number) => {
    clearTimeout(timer);
    if (!signal.aborted) timer = setTimeout(refresh, milliseconds);
  };
  const refresh = () => {
    if (document.visibilityState === 'hidden') return soon(POLL_MS);
    void readLine(desk).finally(() => soon(POLL_MS));
  };
  signal.addEventListener('abort', () => clearTimeout(timer));
  document.addEventListener('visibilitychange', () => soon(0), { signal });
  addEventListener('online', () => soon(0), { signal });
  followLive({
    eventId,
    token,
    signal,
    changed: () => soon(GATHER_MS),
    missed: () => soon(GATHER_MS),
    connected: (open) => {
      desk.live.value = open;
    },
  });
  refresh();
}

/** Reads the line once. */
export async function readLine(desk: Desk): Promise<void> {
  const { eventId } = desk.event;
  const done = await ask(desk, () => call(getLine, { params: { eventId } }, { token: desk.session.token }));
  if (!done.ok) {
    desk.line.value = { ...desk.line.value, stale: true };
    return;
  }
  desk.line.value = { view: done.value.body, stale: false };
  await keep(`line:${eventId}`, done.value.body);
}
