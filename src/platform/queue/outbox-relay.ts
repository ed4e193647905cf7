import type pg from 'pg';
import { type Clock, endsWithin, pause, systemClock } from '../clock.ts';
import type { Pool } from '../database/db.ts';
import { listenTo } from '../database/listen.ts';
import { atMostEvery, type Logger } from '../logger.ts';
import { OUTBOX_CHANNEL } from './outbox.ts';
import type { Queue } from './queue.ts';

/** Thrown when as many wait as may wait. */
export class NoTurn extends Error {}

/** Runs work when it is its turn. */
type Limiter = <T>(work: () => Promise<T>) => Promise<T>;

/**
 * Lets only so many pieces of work run at once and only so many wait, in the order they came: what is dear cannot
 * take the process away from what is urgent.
 *
 * @returns a function that runs work in its turn, and rejects with `NoTurn` at once when too many wait
 */
export function createLimiter({ atOnce, waiting }: { atOnce: number; waiting: number }): Limiter {
  const queue: (() => void)[] = [];
  let running = 0;
  const next = () => {
    const start = queue.shift();
    // A turn that is handed on stays counted.
    if (start === undefined) running -= 1;
    else start();
  };
  return async (work) => {
    if (running < atOnce) running += 1;
    else if (queue.length >= waiting) throw new NoTurn('too many wait');
    else await new Promise<void>((resolve) => queue.push(resolve));
    try {
      return await work();
    } finally {
      next();
    }
  };
}

export type RelayOptions = {
  pool: Pool;
  queue: Pick<Queue, 'add'>;
  log: Logger;
  /** How often to look without having been woken, in milliseconds. */
  pollMs: number;
  /** How long one `add` may take, in milliseconds; 5000 unless told. */
  addTimeoutMs?: number;
  /** Decides how long a job that waits for an instant is delayed. */
  clock?: Clock;
};

type Row = {
  id: string;
  name: string;
  payload: unknown;
  runAt: Date | null;
  requestId: string | null;
  trace: string | null;
};

type Batch = { published: number; failed: number };

/** Under which the connection stands on which a relay waits. */
export const RELAY_NAME = 'gridworthy-outbox';
const BATCH = 50;
const REPORT_EVERY_MS = 60_000;
const LATE_MINUTES = 10;

/**
 * Moves outbox rows into the queue: woken by the commit that wrote a row, and by polling. Any number of relays may run.
 *
 * A row is stamped only after the queue took the job. When `add` fails, is late, or this process dies in between, the
 * row stays and is added again with the same job id, because a late `add` may well have arrived.
 */
export function startRelay(options: RelayOptions): { stop(): Promise<void> } {
  const stopping = new AbortController();
  let wake = new AbortController();
  const { pool, log, pollMs } = options;
  const ring = () => wake.abort();
  const listening = listenTo(pool, {
    channel: OUTBOX_CHANNEL,
    log,
    name: RELAY_NAME,
    retryMs: pollMs,
    heard: ring,
    // What was committed while nobody listened.
    connected: ring,
  });
  const running = relay(options, stopping.signal, {
    async woken(milliseconds) {
      await pause(milliseconds, AbortSignal.any([wake.signal, stopping.signal]));
      wake = new AbortController();
    },
  });
  return {
    async stop() {
      stopping.abort();
      await Promise.all([running, listening.stop()]);
    },
  };
}

async function relay(options: RelayOptions, stopping: AbortSignal, bell: { woken(ms: number): Promise<void> }) {
  const report = atMostEvery(REPORT_EVERY_MS, (error: unknown) => options.log.warn({ error }, 'outbox cannot be read'));
  const reportLate = atMostEvery(REPORT_EVERY_MS, () => reportLateRows(options));
  const pass = async (): Promise<Batch> => {
    try {
      const batch = await publishBatch(options);
      reportLate();
      return batch;
    } catch (error) {
      report(error);
      return { published: 0, failed: 1 };
    }
  };
  let last = await pass();
  while (!stopping.aborted) {
    // After a failure a bell would only hurry the next failure.
    if (last.failed > 0) await pause(options.pollMs, stopping);
    else if (last.published < BATCH) await bell.woken(options.pollMs);
    last = await pass();
  }
  // A pass that began before the stop signal may have missed what was committed until then; a full one left something.
  // After a failure the rows wait for the next start: a queue that is down must not hold up the stop.
  if (last.failed === 0) last = await pass();
  while (last.failed === 0 && last.published === BATCH) last = await pass();
}

async function publishBatch(options: RelayOptions): Promise<Batch> {
  const client = await options.pool.connect();
  let broken: Error | undefined;
  try {
    await client.query('BEGIN');
    const rows = await claimRows(client);
    const failures = await Promise.all(rows.map((row) => addRow(row, options)));
    await stamp(client, rows, failures);
    await client.query('COMMIT');
    const failed = failures.filter((failure) => failure !== undefined).length;
    return { published: rows.length - failed, failed };
  } catch (error) {
    broken = error instanceof Error ? error : new Error(String(error));
    throw error;
  } finally {
    // A connection that failed in a transaction is thrown away; the database rolls back and frees the rows.
    client.release(broken);
  }
}

// Rows that failed least come first, so that a row which never succeeds does not block the others.
async function claimRows(client: pg.PoolClient): Promise<Row[]> {
  const { rows } = await client.query<Row>({
    name: 'outbox-claim',
    text: `SELECT id, name, payload, run_at AS "runAt", request_id AS "requestId", trace FROM outbox
            WHERE published_at IS NULL
            ORDER BY attempts, created_at, id LIMIT ${BATCH}
              FOR UPDATE SKIP LOCKED`,
  });
  return rows;
}

/** Returns why the row is not known to be in the queue, or `undefined` when it is. */
async function addRow(row: Row, { queue, log, addTimeoutMs = 5000, clock = systemClock }: RelayOptions) {
  const delayMs = row.runAt === null ? 0 : row.runAt.getTime() - clock.now().getTime();
  const fields = { job: row.name, outboxId: row.id, requestId: row.requestId };
  try {
    const { requestId, trace } = row;
    const adding = queue.add(row.name, row.payload, { jobId: `outbox-${row.id}`, delayMs, requestId, trace });
    // Observed also when it fails after the time is up.
    adding.catch(() => undefined);
    if (await endsWithin(addTimeoutMs, adding)) return undefined;
    log.warn({ ...fields, addTimeoutMs }, 'the queue did not answer in time; the job will be added again');
    return `no answer within ${addTimeoutMs} ms`;
  } catch (error) {
    log.debug({ ...fields, error }, 'the queue refused a job; it will be added again');
    return error instanceof Error ? error.message : String(error);
  }
}

async function stamp(client: pg.PoolClient, rows: readonly Row[], failures: readonly (string | undefined)[]) {
  if (rows.length === 0) return;
  await client.query({
    name: 'outbox-stamp',
    text: `UPDATE outbox
              SET published_at = CASE WHEN outcome.failure IS NULL THEN clock_timestamp() END,
                  attempts = attempts + 1,
                  last_error = outcome.failure
             FROM unnest($1::uuid[], $2::text[]) AS outcome (id, failure)
            WHERE outbox.id = outcome.id`,
    values: [rows.map((row) => row.id), failures.map((failure) => failure?.slice(0, 500) ?? null)],
  });
}

function reportLateRows({ pool, log }: RelayOptions): void {
  const text = `SELECT count(*)::int AS rows, min(created_at) AS oldest, max(last_error) AS "lastError" FROM outbox
                 WHERE published_at IS NULL AND created_at < now() - interval '${LATE_MINUTES} minutes'`;
  pool.query<{ rows: number; oldest: Date; lastError: string | null }>(text).then(
    ({ rows: [late] }) => {
      if (late !== undefined && late.rows > 0) log.error(late, `outbox rows wait for over ${LATE_MINUTES} minutes`);
    },
    () => undefined, // The loop itself reports a database that does not answer.
  );
}
