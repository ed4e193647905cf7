import { monitorEventLoopDelay } from 'node:perf_hooks';
import { ownThreadMs } from '../support/own-thread-time.ts';

/** What the loop of a process was held up by, in milliseconds. */
export interface LoopTimes {
  /** as the clock has it: on a busy machine the wait for a processor is in it */
  delay: { p999: number; worst: number };
  /** processor time of the loop's own thread between two looks: what no other program can add to */
  own: { p999: number; worst: number };
}

const EVERY_MS = 5;
const NS_PER_MS = 1_000_000;

/** Loaded into a server by `--import`: measures its loop, and tells and forgets when its parent says `read`. */
const histogram = monitorEventLoopDelay({ resolution: EVERY_MS });
histogram.enable();
let stretches: number[] = [];
let before = ownThreadMs();
setInterval(() => {
  const now = ownThreadMs();
  stretches.push(now - before);
  before = now;
}, EVERY_MS).unref();

process.on('message', (word) => {
  if (word !== 'read') return;
  const sorted = stretches.toSorted((a, b) => a - b);
  const own = (share: number) =>
    Math.round(sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))] ?? 0);
  // The histogram counts from one look to the next, so the time between looks is in it.
  const delay = (nanoseconds: number) => Math.max(0, Math.round(nanoseconds / NS_PER_MS - EVERY_MS));
  const times: LoopTimes = {
    delay: { p999: delay(histogram.percentile(99.9)), worst: delay(histogram.max) },
    own: { p999: own(0.999), worst: own(1) },
  };
  process.send?.(times);
  histogram.reset();
  stretches = [];
});
// Whoever measures does not keep the server alive.
process.channel?.unref();
