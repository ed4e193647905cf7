import { type Job, type JobsOptions, Queue, Worker } from 'bullmq';
import { Redis, type RedisOptions } from 'ioredis';
import { atMostEvery, type Logger } from '../logger.ts';

export const QUEUE_NAME = 'gridworthy';

/** A connection that stays down reports once in this time, not at every try. */
export const REPORT_EVERY_MS = 10_000;

/** What a queued job holds. */
export type JobData = { payload: unknown; requestId: string | null; trace?: string };

type QueuedJob = Pick<
  Job<JobData>,
  'id' | 'name' | 'data' | 'attemptsMade' | 'attemptsStarted' | 'opts' | 'moveToDelayed'
>;

/** Runs one job; `token` is the right to it. */
export type Processor = (job: QueuedJob, token?: string) => Promise<void>;

/** The part of BullMQ's `Queue` that we use; the same on both stores. */
type QueueHandle = {
  add(name: string, data: JobData, options: JobsOptions): Promise<unknown>;
  on(event: 'error', listener: (error: Error) => void): unknown;
  close(): Promise<void>;
};

/** The part of BullMQ's `Worker` that we use. */
export type WorkerHandle = {
  on(event: 'error', listener: (error: Error) => void): unknown;
  on(event: 'failed', listener: (job: QueuedJob | undefined, error: Error) => void): unknown;
  on(event: 'stalled', listener: (jobId: string) => void): unknown;
  close(force?: boolean): Promise<void>;
};

export type WorkerTuning = {
  concurrency: number;
  /** How long a job may go without a sign of life before another worker takes it, in milliseconds. */
  lockDuration: number;
  /** How often jobs without a sign of life are looked for, in milliseconds. */
  stalledInterval: number;
  /** How often a job may lose its worker before it is given up for good. */
  maxStalledCount: number;
};

/** One store for the queue. */
export type QueueDriver = {
  kind: 'postgres' | 'redis';
  /** Resolves when the store can be used; rejects soon when it cannot. May be called again. */
  ready(): Promise<void>;
  makeQueue(): QueueHandle;
  makeWorker(processor: Processor, tuning: WorkerTuning): WorkerHandle;
  ping(): Promise<void>;
  close(): Promise<void>;
};

const READY_TIMEOUT_MS = 2000;
const COMMAND_TIMEOUT_MS = 4000;

/**
 * The queue on Redis. The producer fails fast; the worker waits for ever and has no command timeout, because its reads
 * block on purpose.
 */
export function redisDriver(redisUrl: string, log: Logger): QueueDriver {
  const report = atMostEvery(REPORT_EVERY_MS, (error: Error) => log.warn({ error }, 'queue connection failed'));
  const connect = (options: RedisOptions) => {
    const redis = new Redis(redisUrl, { retryStrategy: (tries) => Math.min(tries * 100, 2000), ...options });
    redis.on('error', report);
    return redis;
  };
  const producer = connect({
    enableOfflineQueue: false,
    maxRetriesPerRequest: 1,
    commandTimeout: COMMAND_TIMEOUT_MS,
  });
  const consumers: Redis[] = [];
  const checkPolicy = once(() => warnAboutEviction(producer, log));
  return {
    kind: 'redis',
    async ready() {
      await untilReady(producer);
      await checkPolicy();
    },
    makeQueue: () =>
      new Queue<JobData, void>(QUEUE_NAME, { connection: producer, skipWaitingForReady: true, skipVersionCheck: true }),
    makeWorker(processor, tuning) {
      const connection = connect({ maxRetriesPerRequest: null });
      consumers.push(connection);
      return new Worker<JobData, void>(QUEUE_NAME, processor, {
        connection,
        skipVersionCheck: true,
        ...tuning,
        runRetryDelay: 1000,
      });
    },
    async ping() {
      await producer.ping();
    },
    async close() {
      for (const connection of [producer, ...consumers]) connection.disconnect();
    },
  };
}

function untilReady(redis: Redis): Promise<void> {
  if (redis.status === 'ready') return Promise.resolve();
  return new Promise((resolve, reject) => {
    const onReady = () => {
      clearTimeout(timer);
      resolve();
    };
    const timer = setTimeout(() => {
      redis.off('ready', onReady);
      reject(new Error(`Redis is not ready (${redis.status})`));
    }, READY_TIMEOUT_MS);
    redis.once('ready', onReady);
  });
}

async function warnAboutEviction(redis: Redis, log: Logger): Promise<void> {
  const policy = /maxmemory_policy:(\S+)/.exec(await redis.info('memory'))?.[1];
  if (policy === undefined || policy === 'noeviction') return;
  log.error({ policy }, 'Redis may drop jobs: set maxmemory-policy to noeviction');
}

function once(task: () => Promise<void>): () => Promise<void> {
  let running: Promise<void> | undefined;
  return () => {
    // A check that failed (a managed Redis may refuse INFO) is not worth a retry or an outage.
    running ??= task().catch(() => undefined);
    return running;
  };
}
