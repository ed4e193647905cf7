import { signal } from '@preact/signals';
import { call } from '../../api/call.ts';
import { getLine } from '../../api/operations.ts';
import { followLive } from '../../shared/live.ts';
import { ask, type Station } from './station.ts';
import { keep } from './worksheet.ts';
import type { Target } from './rejection.ts';

/** The place that is to get the focus once it is drawn; its area opens for it. */
export const wantedCell = signal<string | undefined>(undefined);

export const placeId = (cell: string): string => `place-${cell.replace(/[@.]/g, '_')}`;

/** Where the focus goes for a target that is not a place on the car. */
const FIELD_IDS = { sticker: 'sticker', note: 'note', conditions: 'condition-add' } as const;

/** Brings a target into sight and the focus to it. */
export function goTo(target: Target): void {
  if (target.kind === 'place') {
    // Asked for again, it must change to be noticed.
    wantedCell.value = undefined;
    wantedCell.value = target.cell;
    return;
  }
  focusOn(target.kind === 'condition' ? `condition-${target.id}` : FIELD_IDS[target.kind]);
}

/** @returns whether there was something to focus */
export function focusOn(id: string): boolean {
  const found = document.getElementById(id);
  found?.scrollIntoView({ block: 'center' });
  found?.focus({ preventScroll: true });
  return found !== null;
}

const MOST_FRAMES = 30;

/** The same for something that may still have to be drawn: its area and its card may only now be opening. */
export function focusWhenDrawn(id: string, framesLeft = MOST_FRAMES): void {
  requestAnimationFrame(() => {
    if (!focusOn(id) && framesLeft > 0) focusWhenDrawn(id, framesLeft - 1);
  });
}

/** Without the stream, and for the forecasts, which change by themselves. */
const POLL_MS = 10_000;
/** Changes that come together are read together. */
const GATHER_MS = 250;

/** Keeps the line on the screen up to date until the signal. */
export function followLine(station: Station, signal: AbortSignal): void {
  const { eventId } = station.event;
  const { token } = station.session;
  let timer: ReturnType<typeof setTimeout> | undefined;
  const soon = (milliseconds: number) => {
    clearTimeout(timer);
    if (!signal.aborted) timer = setTimeout(refresh, milliseconds);
  };
  const refresh = () => {
    if (document.visibilityState === 'hidden') return soon(POLL_MS);
    void readLine(station).finally(() => soon(POLL_MS));
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
      station.live.value = open;
    },
  });
  refresh();
}

/** Reads the line once. */
export async function readLine(station: Station): Promise<void> {
  const { eventId } = station.event;
  const done = await ask(station, () => call(getLine, { params: { eventId } }, { token: station.session.token }));
  if (!done.ok) {
    station.line.value = { ...station.line.value, stale: true };
    return;
  }
  station.line.value = { view: done.value.body, stale: false };
  await keep(`line:${eventId}`, done.value.body);
}
