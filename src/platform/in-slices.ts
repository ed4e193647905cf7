import { setImmediate } from 'node:timers/promises';

const SLICE_MS = 8;

/** Lets other work of the process run, if this work has had it for 8 ms since it last did; else does nothing. */
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
