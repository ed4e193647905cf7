import { setTimeout as sleep } from 'node:timers/promises';
import { parentPort, workerData } from 'node:worker_threads';

/** What to look up, and how often. */
export interface Lookups {
  url: string;
  token: string;
  count: number;
}

/** What the lookups took, in milliseconds. */
export interface Times {
  p50: number;
  p99: number;
  worst: number;
  failed: number;
}

/** Between two lookups: a busy gate asks a few times a second, this is fifty. */
const EVERY_MS = 20;

function timesOf(ms: readonly number[], failed: number): Times {
  const sorted = ms.toSorted((a, b) => a - b);
  const at = (share: number) => Math.round(sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))] ?? 0);
  return { p50: at(0.5), p99: at(0.99), worst: at(1), failed };
}

/** Looks up at a steady rate, whatever the answers take. */
async function lookUp({ url, token, count }: Lookups): Promise<Times> {
  const ms: number[] = [];
  let failed = 0;
  const one = async () => {
    const started = performance.now();
    const answer = await fetch(url, { headers: { authorization: `Bearer ${token}` } });
    await answer.text();
    ms.push(performance.now() - started);
    if (answer.status !== 200) failed += 1;
  };
  const all: Promise<void>[] = [];
  for (let at = 0; at < count; at += 1) {
    all.push(one());
    await sleep(EVERY_MS);
  }
  await Promise.all(all);
  return timesOf(ms, failed);
}

// oxlint-disable-next-line unicorn/require-post-message-target-origin -- that is about windows
parentPort?.postMessage(await lookUp(workerData as Lookups));
