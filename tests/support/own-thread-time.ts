import { readFileSync, readlinkSync } from 'node:fs';

const NS_PER_MS = 1_000_000;

/** Processor time of the thread that asks, in milliseconds; by the clock where the system does not tell. */
export function ownThreadMs(): number {
  try {
    const task = readlinkSync('/proc/thread-self').split('/').at(-1);
    return Number.parseInt(readFileSync(`/proc/self/task/${task}/schedstat`, 'utf8'), 10) / NS_PER_MS;
  } catch {
    return performance.now();
  }
}

/**
 * Watches this thread's loop.
 *
 * @returns ends the watch, and says the most processor time between two turns of the loop, in milliseconds
 */
export function watchTurns(): () => number {
  let worst = 0;
  let before = ownThreadMs();
  let isOver = false;
  const look = () => {
    worst = Math.max(worst, ownThreadMs() - before);
    before = ownThreadMs();
    if (!isOver) setImmediate(look);
  };
  setImmediate(look);
  return () => {
    isOver = true;
    return worst;
  };
}
