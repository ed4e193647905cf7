import type { z } from 'zod';
import { atMostEvery, type Logger } from '../logger.ts';
import type { Pool } from '../database/db.ts';
import { pause } from '../clock.ts';

/** What a handler knows about the run it is in. */
export type JobContext = {
  /** Carries `job`, `jobId` and `requestId` on every line. */
  log: Logger;
  jobId: string;
  /** The request that caused the job, or `null` when time did. */
  requestId: string | null;
  /** 1 on the first try. */
  attempt: number;
};

/** How often and how patiently the queue tries a job. */
export type JobPolicy = {
  /** `noun.verb`, for example `claim.expire`. */
  name: string;
  /** Tries in all, at least 1. */
  attempts: number;
  /** Wait before the second try, in milliseconds; doubles with each further one, with jitter. */
  backoffMs: number;
};

/**
 * One kind of job. The payload holds ids, not copies of rows. The handler may run twice for one payload (a crash after
 * the work and before the queue heard of it), so it re-reads, checks the state and writes conditionally.
 */
export type JobDefinition<Deps, P> = JobPolicy & {
  /** A payload that does not parse fails the job for good. */
  payload: z.ZodType<P>;
  /** Throws to be tried again. A call to the outside brings its own `AbortSignal.timeout`. */
  handle(deps: Deps, payload: P, context: JobContext): Promise<void>;
};

/** Types a definition: the handler's payload type follows from the schema. */
export function defineJob<Deps, P>(definition: JobDefinition<Deps, P>): JobDefinition<Deps, P> {
  return definition;
}

/** Work that is done from time to time. Ends soon after the signal fires; what it left is done next time. */
export type Chore = (signal: AbortSignal) => Promise<unknown>;

const EVERY_MS = 60_000;
const HOUR_MS = 3_600_000;
const REPORT_EVERY_MS = 600_000;
/** Rows that one statement removes: short enough to be no trouble to anybody, and to a stop. */
const BATCH = 2000;

/** Runs chores once a minute until stopped; a failing one is reported and tried again. */
export function startKeeper(chores: readonly Chore[], log: Logger, everyMs = EVERY_MS): { stop(): Promise<void> } {
  const stopping = new AbortController();
  const { signal } = stopping;
  const report = atMostEvery(REPORT_EVERY_MS, (error: unknown) => log.warn({ error }, 'a chore failed'));
  const running = (async () => {
    while (!signal.aborted) {
      for (const chore of chores) {
        if (signal.aborted) break;
        await chore(signal).catch(report);
      }
      await pause(everyMs, signal);
    }
  })();
  return {
    async stop() {
      stopping.abort();
      await running;
    },
  };
}

/** The same chore, at most once an hour however often it is asked; one that failed waits no hour. */
export function hourly(chore: Chore): Chore {
  let next = 0;
  return async (signal) => {
    if (performance.now() < next) return;
    await chore(signal);
    // One that was cut off is not done.
    if (!signal.aborted) next = performance.now() + HOUR_MS;
  };
}

/**
 * Removes rows in statements of a bounded size until none is left or the signal fires. Returns how many.
 *
 * @param text a DELETE of at most `$1` rows; further values from `$2`
 */
export async function deleteInBatches(
  pool: Pool,
  { text, values = [] }: { text: string; values?: readonly unknown[] },
  signal?: AbortSignal,
): Promise<number> {
  let removed = 0;
  for (;;) {
    if (signal?.aborted === true) break;
    const { rowCount } = await pool.query(text, [BATCH, ...values]);
    removed += rowCount ?? 0;
    if ((rowCount ?? 0) < BATCH) break;
  }
  return removed;
}
