import { TooHeavy } from '../platform/thread.ts';
import type { ThreadTask } from '../platform/thread-task.ts';
import { type Asked, CallerBusy, type Threads, ThreadsBusy } from '../platform/threads.ts';
import { ProblemError } from './problem.ts';

/** Of every operation that runs a task for its caller. */
export const THREAD_PROBLEMS = ['too-heavy', 'too-much-at-once', 'threads-busy'] as const;

const RETRY = { 'retry-after': '2' };

/** Bodies before checks, so that nobody waits with a small request behind somebody's large rule set. */
export const URGENCY = { body: 0, check: 1, preview: 2 } as const;

/**
 * Runs a task in a thread, for a request.
 *
 * @throws ProblemError `too-heavy`, `too-much-at-once` (this caller's own), `threads-busy`
 */
export async function inThread<I, O>(threads: Threads, task: ThreadTask<I, O>, input: I, asked: Asked): Promise<O> {
  try {
    return await threads.run(task, input, asked);
  } catch (error) {
    throw refusal(error);
  }
}

function refusal(error: unknown): unknown {
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
