import { signal } from '@preact/signals';

/** How far the server's clock is ahead of this device's, milliseconds; known to about a second. */
let offsetMs = 0;

/** The server's clock now, milliseconds, renewed each second. */
export const now = signal(Date.now());

/** Takes over the time of an answer. */
export function noteServerTime(date: Date | undefined): void {
  if (date === undefined) return;
  // The header has whole seconds, cut off: half of one more is right on average.
  offsetMs = date.getTime() + 500 - Date.now();
  now.value = serverNow();
}

export const serverNow = (): number => Date.now() + offsetMs;

/** Starts the ticking; once per page. */
export function startClock(): void {
  setInterval(() => {
    now.value = serverNow();
  }, 1000);
}
