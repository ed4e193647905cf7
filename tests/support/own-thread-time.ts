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
