const SIGNALS = ['SIGINT', 'SIGTERM'] as const;

/** What must be closed before this process may end. */
const open = new Set<() => Promise<void>>();

/**
 * Sees to it that what was started is closed also when the run is told to end, and ends by the same signal then. A
 * second signal does not wait. `close` closes once, however often it is called, and ends the guard.
 */
export function closeAtSignal(close: () => Promise<unknown>): { close(): Promise<void> } {
  let closing: Promise<unknown> | undefined;
  const once = async () => {
    closing ??= close();
    await closing;
  };
  if (open.size === 0) for (const signal of SIGNALS) process.once(signal, end);
  open.add(once);
  return {
    async close() {
      try {
        await once();
      } finally {
        open.delete(once);
        if (open.size === 0) unguard();
      }
    },
  };
}

function unguard(): void {
  for (const signal of SIGNALS) process.removeListener(signal, end);
}

function end(signal: NodeJS.Signals): void {
  unguard();
  process.stderr.write(`${signal}: closing what was started\n`);
  void closeAll().finally(() => process.kill(process.pid, signal));
}

async function closeAll(): Promise<void> {
  for (const { status, ...rest } of await Promise.allSettled([...open].map((close) => close()))) {
    if (status === 'rejected') process.stderr.write(`${String((rest as { reason: unknown }).reason)}\n`);
  }
}
