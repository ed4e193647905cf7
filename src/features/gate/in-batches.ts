interface Waiting<In, Out> {
  item: In;
  done(result: Out): void;
  failed(error: unknown): void;
}

/**
 * Makes one round trip do for all who ask at the same time. While a lane is free, what has arrived goes off at once;
 * what arrives later goes together as soon as a lane is free again. The work for an item always starts after it was
 * asked for: nothing is answered from an earlier reading.
 *
 * @param work gives one result per item, in their order; when it fails, every item of that batch fails
 * @param options `lanes` batches of at most `most` items run side by side, so that one that hangs does not stop the rest
 */
export function inBatches<In, Out>(
  work: (items: readonly In[]) => Promise<readonly Out[]>,
  { lanes, most }: { lanes: number; most: number },
): (item: In) => Promise<Out> {
  const waiting: Waiting<In, Out>[] = [];
  let busy = 0;

  async function lane(): Promise<void> {
    while (waiting.length > 0) await settle(waiting.splice(0, most), work);
    // In the same turn as the look at the list, or an item could slip in between and wait for ever.
    busy -= 1;
  }

  return (item) =>
    new Promise((done, failed) => {
      waiting.push({ item, done, failed });
      if (busy >= lanes) return;
      busy += 1;
      // After all requests that came with this one were read.
      setImmediate(() => void lane());
    });
}

async function settle<In, Out>(
  batch: readonly Waiting<In, Out>[],
  work: (items: readonly In[]) => Promise<readonly Out[]>,
): Promise<void> {
  try {
    const results = await work(batch.map(({ item }) => item));
    if (results.length !== batch.length) throw new Error(`${batch.length} were asked, ${results.length} answered`);
    for (const [place, { done }] of batch.entries()) done(results[place] as Out);
  } catch (error) {
    for (const { failed } of batch) failed(error);
  }
}
