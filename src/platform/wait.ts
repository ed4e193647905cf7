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
  const cancel = new AbortController();
  const late = pause(milliseconds, cancel.signal).then(() => false);
  try {
    return await Promise.race([task.then(() => true), late]);
  } finally {
    cancel.abort();
  }
}
