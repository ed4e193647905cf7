import { threadId } from 'node:worker_threads';
import { defineThreadTask } from '../../src/platform/threads/thread.ts';

const LIMITS = { processorMs: 20_000, clockMs: 60_000 };

/** Says what it was sent, and in which thread it was. */
export const ECHO = defineThreadTask<string, { said: string; threadId: number }>({
  name: 'test.echo',
  ...LIMITS,
  run: (said) => ({ said, threadId }),
});

export const THROWS = defineThreadTask<string, never>({
  name: 'test.throw',
  ...LIMITS,
  run(why) {
    throw new RangeError(why);
  },
});

/** Never ends, and takes all of a processor. */
export const ENDLESS = defineThreadTask<null, never>({
  name: 'test.endless',
  processorMs: 200,
  clockMs: 60_000,
  run() {
    for (;;);
  },
});

/** Takes memory without end. */
export const FULL = defineThreadTask<null, never>({
  name: 'test.full',
  ...LIMITS,
  run() {
    const all: number[][] = [];
    for (;;) all.push(Array.from({ length: 100_000 }, (_, at) => at * 1.5));
  },
});

/** Ends after so many milliseconds, and does nothing meanwhile. */
export const SLOW = defineThreadTask<number, string>({
  name: 'test.slow',
  ...LIMITS,
  run: (ms) => new Promise((resolve) => setTimeout(() => resolve('done'), ms)),
});
