import type { Pool } from './db.ts';
import { atMostEvery, type Logger } from './logger.ts';
import { pause } from './wait.ts';

const PREFIX = 'outbox-';
const LOST_AFTER_MINUTES = 10;
const KEPT_DAYS = 30;
const EVERY_MS = 60_000;
const REPORT_EVERY_MS = 600_000;

/** Notes that a job's handler finished. A job that did not come from the outbox is no matter of ours. */
export async function markDone(pool: Pool, jobId: string): Promise<void> {
  if (!jobId.startsWith(PREFIX)) return;
  await pool.query('UPDATE outbox SET done_at = now() WHERE id = $1 AND done_at IS NULL', [jobId.slice(PREFIX.length)]);
}

/**
 * Puts rows back for the relay whose job should have run long ago and did not finish: a queue that lost its memory
 * makes things late, it never loses them. While the queue still knows the job, adding it again with its id does
 * nothing. Returns how many rows were put back.
 *
 * @param afterMinutes how long a job may take before it counts as lost; 10 unless told
 */
export async function reviveLostRows(pool: Pool, afterMinutes = LOST_AFTER_MINUTES): Promise<number> {
  const result = await pool.query(
    `UPDATE outbox SET published_at = NULL
      WHERE done_at IS NULL AND greatest(published_at, run_at) < now() - make_interval(mins => $1)`,
    [afterMinutes],
  );
  return result.rowCount ?? 0;
}

/** Forgets rows whose job finished over 30 days ago. */
export async function purgeDoneRows(pool: Pool): Promise<void> {
  await pool.query(`DELETE FROM outbox WHERE done_at < now() - interval '${KEPT_DAYS} days'`);
}

/** Runs chores once a minute until stopped; a failing one is reported and tried again. Any number of processes may. */
export function startKeeper(
  chores: readonly (() => Promise<unknown>)[],
  log: Logger,
  everyMs = EVERY_MS,
): { stop(): Promise<void> } {
  const stopping = new AbortController();
  const report = atMostEvery(REPORT_EVERY_MS, (error: unknown) => log.warn({ error }, 'a chore failed'));
  const running = (async () => {
    while (!stopping.signal.aborted) {
      for (const chore of chores) await chore().catch(report);
      await pause(everyMs, stopping.signal);
    }
  })();
  return {
    async stop() {
      stopping.abort();
      await running;
    },
  };
}
