/** Waits for a condition instead of sleeping; fails with what was waited for. */
export async function waitFor<T>(
  what: string,
  check: () => Promise<T | undefined | false> | T | undefined | false,
  timeoutMs = 60_000,
): Promise<T> {
  const deadline = performance.now() + timeoutMs;
  for (;;) {
    const found = await check();
    if (found !== undefined && found !== false) return found;
    if (performance.now() > deadline) throw new Error(`waited ${timeoutMs} ms in vain for: ${what}`);
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}
