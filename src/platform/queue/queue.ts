import { createPostgresBackend, runMigrations, withBackend } from 'bullmq';
import pg from 'pg';
import { surviveLostConnections } from '../database/db.ts';
import { atMostEvery, type Logger } from '../logger.ts';
import { endsWithin } from '../clock.ts';
import type { JobDefinition, JobPolicy } from './job.ts';
import { type JobData, QUEUE_NAME, type QueueDriver, redisDriver, REPORT_EVERY_MS } from './queue-driver.ts';
import { startQueueWorker, type WorkerSettings } from './queue-worker.ts';

const SCHEMA = 'bullmq';

/** The queue in the schema `bullmq` of a PostgreSQL database, on a small pool of its own. */
function postgresDriver(databaseUrl: string, log: Logger): QueueDriver {
  const { Queue, Worker } = withBackend(createPostgresBackend);
  const pool = openPool(databaseUrl, log);
  let migrated: Promise<void> | undefined;
  return {
    kind: 'postgres',
    async ready() {
      migrated ??= migrate(pool);
      try {
        await migrated;
      } catch (error) {
        migrated = undefined;
        throw error;
      }
    },
    makeQueue: () => new Queue<JobData, void>(QUEUE_NAME, { connection: pool }),
    makeWorker: (processor, tuning) =>
      new Worker<JobData, void>(QUEUE_NAME, processor, {
        connection: pool,
        ...tuning,
        runRetryDelay: 1000,
      }),
    async ping() {
      await pool.query('SELECT 1');
    },
    close: () => pool.end(),
  };
}

function openPool(databaseUrl: string, log: Logger): pg.Pool {
  const pool = new pg.Pool({
    connectionString: databaseUrl,
    // One is taken for good by the worker, which listens on it.
    max: 6,
    // BullMQ sets this itself only on pools that it opens.
    options: `-c search_path=${SCHEMA}`,
    application_name: 'gridworthy-queue',
    connectionTimeoutMillis: 5000,
    query_timeout: 15_000,
    statement_timeout: 10_000,
    idle_in_transaction_session_timeout: 20_000,
    keepAlive: true,
  });
  surviveLostConnections(pool, (error) => log.warn({ error }, 'queue connection lost'));
  return pool;
}

async function migrate(pool: pg.Pool): Promise<void> {
  const client = await pool.connect();
  try {
    await runMigrations(client, SCHEMA);
  } finally {
    client.release();
  }
}

export type AddOptions = {
  /** Same id, same job: a second add does nothing while the queue still knows the first. No `:`, not all digits. */
  jobId: string;
  /** Wait before the job may run, in milliseconds. */
  delayMs?: number;
  requestId?: string | null;
  /** the trace that it belongs to, as `traceparent` */
  trace?: string | null;
};

export type RunningWorker = {
  /** Stops taking jobs and waits for those that run, for a bounded time. */
  close(): Promise<void>;
};

/** The job queue. It may make something late; it never decides anything: PostgreSQL is the only truth. */
export type Queue = {
  kind: 'postgres' | 'redis';
  /**
   * Stores a job. Only the outbox relay calls this.
   *
   * @throws Error when the name has no policy, or the queue cannot be reached. An error or a timeout does not mean that
   * the job is not there: add again with the same id.
   */
  add(name: string, payload: unknown, options: AddOptions): Promise<void>;
  /** Runs jobs in this process. Returns at once; while the queue is down it keeps trying in the background. */
  startWorker<Deps>(
    jobs: readonly JobDefinition<Deps, unknown>[],
    deps: Deps,
    settings?: Partial<WorkerSettings>,
  ): RunningWorker;
  /** @throws Error when the queue does not answer within seconds */
  ping(): Promise<void>;
  /** Closes the connections. Close workers and the relay first. */
  close(): Promise<void>;
};

export type QueueOptions = {
  /** Where jobs live when there is no Redis: the schema `bullmq` of this database. */
  databaseUrl: string;
  /** Redis, when given. */
  redisUrl?: string | undefined;
  /** How often and how patiently each job is tried. */
  policies: readonly JobPolicy[];
  log: Logger;
};

const CLOSE_MS = 2000;
const DAY_SECONDS = 86_400;
const KEEP_DONE = { age: DAY_SECONDS, count: 10_000 };
const KEEP_FAILED = { age: 30 * DAY_SECONDS, count: 50_000 };

/** Opens the queue without waiting for it: a queue that is down at start must not keep a process from starting. */
export function openQueue({ databaseUrl, redisUrl, policies, log }: QueueOptions): Queue {
  const driver = redisUrl === undefined ? postgresDriver(databaseUrl, log) : redisDriver(redisUrl, log);
  const policyOf = new Map(policies.map((policy) => [policy.name, policy]));
  const producer = openProducer(driver, log);
  return {
    kind: driver.kind,
    async add(name, payload, options) {
      const policy = policyOf.get(name);
      if (policy === undefined) throw new Error(`no job is named "${name}"`);
      const queue = await producer.get();
      const { requestId = null, trace } = options;
      const data: JobData = { payload, requestId, ...(typeof trace === 'string' ? { trace } : {}) };
      await queue.add(name, data, {
        jobId: options.jobId,
        delay: Math.max(0, options.delayMs ?? 0),
        attempts: policy.attempts,
        backoff: { type: 'exponential', delay: policy.backoffMs, jitter: 0.3 },
        removeOnComplete: KEEP_DONE,
        removeOnFail: KEEP_FAILED,
      });
    },
    startWorker: (jobs, deps, settings = {}) => startQueueWorker({ driver, jobs, deps, settings, log }),
    ping: () => driver.ping(),
    async close() {
      await producer.close();
      const closed = driver.close();
      closed.catch(() => undefined);
      // A worker keeps its connection while a job of it still runs, and a connection that was cut may never say that it ended.
      if (!(await endsWithin(CLOSE_MS, closed))) log.warn('connections of the queue are still open at the stop');
    },
  };
}

// Built at the first use that finds the queue up: BullMQ remembers a failed first connection for ever.
function openProducer(driver: QueueDriver, log: Logger) {
  let closing = false;
  let opening: Promise<ReturnType<QueueDriver['makeQueue']>> | undefined;
  const report = atMostEvery(REPORT_EVERY_MS, (error: Error) => log.warn({ error }, 'queue connection failed'));
  const open = async () => {
    await driver.ready();
    const queue = driver.makeQueue();
    queue.on('error', (error) => {
      if (!closing) report(error);
    });
    return queue;
  };
  return {
    async get() {
      opening ??= open();
      try {
        return await opening;
      } catch (error) {
        opening = undefined;
        throw error;
      }
    },
    async close() {
      closing = true;
      const queue = await opening?.catch(() => undefined);
      const closed = queue?.close() ?? Promise.resolve();
      closed.catch(() => undefined);
      // A queue that is away never confirms it, and nothing is lost: jobs are stamped when they were taken.
      if (!(await endsWithin(CLOSE_MS, closed))) log.warn('the queue does not answer at the stop');
    },
  };
}
