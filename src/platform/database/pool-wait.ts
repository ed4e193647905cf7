import type { PoolClient } from 'pg';
import type { Pool } from './db.ts';

/** How long whoever needs a database connection waits for one at the moment. */
export interface PoolWait {
  /** milliseconds: the longer of what the last look took, what this one has taken so far, and what the queue promises */
  waitMs(): number;
  stop(): void;
}

/** Weight of the newest of the times that connections were held for. */
const NEWEST = 0.05;

/**
 * Measures the queue for connections by standing in it, several times a second, and by what is in front: its length
 * times the time that connections are held for. The length alone says little: a hundred short questions are gone in a
 * moment, twenty long ones are not.
 *
 * @param everyMs pause between two looks, in milliseconds
 */
export function watchPool(pool: Pool, everyMs: number): PoolWait {
  const heldMs = watchHolding(pool);
  // Where a connection may still be opened nobody queues, however long a busy machine takes to open it.
  const isFull = () => pool.totalCount >= pool.options.max && pool.idleCount === 0;
  let last = 0;
  let since: number | undefined;
  const look = async () => {
    if (since !== undefined) return;
    since = performance.now();
    try {
      (await pool.connect()).release();
      last = performance.now() - since;
    } catch {
      // A database that is down is another problem: who needs it is told so.
      last = 0;
    }
    since = undefined;
  };
  const timer = setInterval(() => void look(), everyMs);
  timer.unref();
  return {
    waitMs() {
      if (!isFull()) return 0;
      const soFar = since === undefined ? 0 : performance.now() - since;
      return Math.max(last, soFar, (pool.waitingCount * heldMs()) / pool.options.max);
    },
    stop: () => clearInterval(timer),
  };
}

/** For how long a connection is held, in milliseconds: a mean in which the newest count most. */
function watchHolding(pool: Pool): () => number {
  const since = new WeakMap<PoolClient, number>();
  let mean = 0;
  pool.on('acquire', (client) => since.set(client, performance.now()));
  pool.on('release', (_error, client) => {
    const from = since.get(client);
    if (from !== undefined) mean += NEWEST * (performance.now() - from - mean);
  });
  return () => mean;
}
