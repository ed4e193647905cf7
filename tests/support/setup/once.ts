const started = new Map<string, { users: number; value: Promise<{ stop(): Promise<void> }> }>();

declare global {
  /** What several vitest projects of one run share; each project loads these files for itself. */
  var gridworthyOnce: typeof started | undefined;
}

const shared = (globalThis.gridworthyOnce ??= started);

/**
 * Starts something once for all projects of a run.
 *
 * @returns what `start` gave, and a release; the last release stops it
 */
export async function once<T extends { stop(): Promise<void> }>(
  name: string,
  start: () => Promise<T>,
): Promise<{ value: T; release: () => Promise<void> }> {
  const known = shared.get(name) ?? { users: 0, value: start() };
  shared.set(name, known);
  known.users += 1;
  const value = (await known.value) as T;
  const release = async () => {
    known.users -= 1;
    if (known.users > 0) return;
    shared.delete(name);
    await value.stop();
  };
  return { value, release };
}
