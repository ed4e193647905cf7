import { readFile } from 'node:fs/promises';
import type { ThreadTask } from './thread-task.ts';

/** Time since a task began, in milliseconds. */
export interface Spent {
  /** by the clock where the system does not tell */
  processorMs: number;
  clockMs: number;
}

const LOOK_EVERY_MS = 50;
const NS_PER_MS = 1_000_000;

/**
 * Watches what a task uses, from when its thread is up: what it takes to start is not the task's.
 *
 * @param upOf the thread once it is up, with its number where the system counts threads
 * @returns ends the watch
 */
export function watchTime(
  upOf: () => { threadId: number | undefined } | undefined,
  limits: Pick<ThreadTask<unknown, unknown>, 'processorMs' | 'clockMs'>,
  onLimit: (spent: Spent) => void,
): () => void {
  let since = { at: performance.now(), used: undefined as number | undefined, isUp: false };
  let isOver = false;
  const look = async () => {
    const up = upOf();
    const used = await processorMs(up?.threadId);
    const at = performance.now();
    if (up !== undefined && !since.isUp) since = { at, used, isUp: true };
    const spent = spentSince(since, { at, used });
    if (isOver || (spent.processorMs < limits.processorMs && spent.clockMs < limits.clockMs)) return;
    isOver = true;
    onLimit(spent);
  };
  const timer = setInterval(() => void look(), LOOK_EVERY_MS);
  void look();
  return () => {
    isOver = true;
    clearInterval(timer);
  };
}

function spentSince(
  since: { at: number; used: number | undefined; isUp: boolean },
  now: { at: number; used: number | undefined },
): Spent {
  const clockMs = Math.round(now.at - since.at);
  if (!since.isUp) return { processorMs: 0, clockMs };
  const isTold = since.used !== undefined && now.used !== undefined;
  return { processorMs: isTold ? Math.round(Number(now.used) - Number(since.used)) : clockMs, clockMs };
}

/** Processor time of a thread so far; undefined where the system does not tell. */
async function processorMs(threadId: number | undefined): Promise<number | undefined> {
  if (threadId === undefined) return undefined;
  const text = await readFile(`/proc/self/task/${threadId}/schedstat`, 'utf8').catch(() => '');
  const nanoseconds = Number.parseInt(text, 10);
  return Number.isNaN(nanoseconds) ? undefined : nanoseconds / NS_PER_MS;
}
