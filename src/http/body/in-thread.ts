import { setTimeout as wait } from 'node:timers/promises';
import { type ThreadTask, TooHeavy } from '../../platform/threads/thread.ts';
import { type Asked, CallerBusy, type Threads, ThreadsBusy } from '../../platform/threads/threads.ts';
import { ProblemError } from '../frame/problem.ts';

/** Of every operation that runs a task for its caller. */
export const THREAD_PROBLEMS = ['too-heavy', 'too-much-at-once', 'threads-busy'] as const;

const RETRY = { 'retry-after': '2' };

/** Bodies before checks, so that nobody waits with a small request behind somebody's large rule set; jobs last. */
export const URGENCY = { body: 0, check: 1, preview: 2, job: 3 } as const;

const JOB_WAIT = { everyMs: 500, timesAtMost: 1200 };

/**
 * Runs a task in a thread, for a request.
 *
 * @throws ProblemError `too-heavy`, `too-much-at-once` (this caller's own), `threads-busy`
 */
export async function inThread<I, O>(threads: Threads, task: ThreadTask<I, O>, input: I, asked: Asked): Promise<O> {
  try {
    return await threads.run(task, input, asked);
  } catch (error) {
    throw problemOf(error);
  }
}

/**
 * Runs a task in a thread, for a job: it waits for its turn as long as others need, ten minutes at most.
 *
 * @throws TooHeavy, ThreadsBusy, CallerBusy
 */
export async function inThreadForJob<I, O>(
  threads: Threads,
  task: ThreadTask<I, O>,
  input: I,
  caller: string,
): Promise<O> {
  for (let tries = 1; ; tries += 1) {
    try {
      return await threads.run(task, input, { caller, urgency: URGENCY.job });
    } catch (error) {
      const isBusy = error instanceof CallerBusy || error instanceof ThreadsBusy;
      if (!isBusy || tries >= JOB_WAIT.timesAtMost) throw error;
      await wait(JOB_WAIT.everyMs);
    }
  }
}

function problemOf(error: unknown): unknown {
  if (error instanceof TooHeavy) {
    const detail = `This takes too long to check, or too much memory. Send less, or send it in parts.`;
    return new ProblemError('too-heavy', detail, { limit: error.of });
  }
  if (error instanceof CallerBusy) {
    return new ProblemError('too-much-at-once', 'Wait for the answers to what you sent before.', {}, RETRY);
  }
  if (error instanceof ThreadsBusy) {
    return new ProblemError('threads-busy', 'Too much is being checked at the moment.', {}, RETRY);
  }
  return error;
}
