import { setImmediate } from 'node:timers/promises';

const SLICE_MS = 4;

/** Lets other work of the process run, if this work has had it for 4 ms since it last did; else does nothing. */
export function openBreather(): () => Promise<void> {
  let until = performance.now() + SLICE_MS;
  return async () => {
    if (performance.now() < until) return;
    await setImmediate();
    until = performance.now() + SLICE_MS;
  };
}

/** Runs long work step by step, so that what is urgent does not wait behind it. */
export async function runInSlices<T>(steps: Generator<unknown, T>): Promise<T> {
  const breathe = openBreather();
  for (let step = steps.next(); ; step = steps.next()) {
    if (step.done) return step.value;
    await breathe();
  }
}

/** Resolves after a time, or at once when the signal fires. Never rejects. */
export function pause(milliseconds: number, signal?: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    const done = () => {
      clearTimeout(timer);
      signal?.removeEventListener('abort', done);
      resolve();
    };
    const timer = setTimeout(done, milliseconds);
    if (signal?.aborted === true) done();
    else signal?.addEventListener('abort', done, { once: true });
  });
}

/** Whether a task ended within the time. A task that is late goes on; one that fails in time rejects here. */
export async function endsWithin(milliseconds: number, task: Promise<unknown>): Promise<boolean> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<false>((resolve) => {
    timer = setTimeout(resolve, milliseconds, false);
  });
  try {
    return await Promise.race([task.then(() => true), late]);
  } finally {
    clearTimeout(timer);
  }
}
