import { Queue, Worker } from 'bullmq';
import { Redis, type RedisOptions } from 'ioredis';
import { atMostEvery, type Logger } from '../logger.ts';
import { type JobData, QUEUE_NAME, type QueueDriver, REPORT_EVERY_MS } from './queue-driver.ts';

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
