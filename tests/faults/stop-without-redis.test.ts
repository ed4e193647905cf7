import { Redis } from 'ioredis';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { z } from 'zod';
import { defineJob } from '../../src/platform/queue/job.ts';
import { createLogger } from '../../src/platform/logger.ts';
import { openQueue, type Queue, type RunningWorker } from '../../src/platform/queue/queue.ts';
import { hasRedis, startRedis, type TestRedis } from '../support/redis.ts';
import { waitFor } from '../support/wait.ts';
import { openProxy, type Proxy } from './proxy.ts';

interface Work {
  started: number;
  finished: number;
  ms: number;
}

const job = defineJob<Work, Record<string, never>>({
  name: 'test.work',
  payload: z.strictObject({}) as z.ZodType<Record<string, never>>,
  attempts: 3,
  backoffMs: 50,
  async handle(work) {
    work.started += 1;
    await new Promise((resolve) => setTimeout(resolve, work.ms));
    work.finished += 1;
  },
});

// A fault run found it: a worker that was told to stop while Redis was away waited for it until its time was up.
describe.skipIf(!hasRedis())('a stop while Redis is away', () => {
  let redis: TestRedis;
  let proxy: Proxy;
  let queue: Queue;
  let worker: RunningWorker;
  let work: Work;

  beforeEach(async () => {
    redis = await startRedis();
    proxy = await openProxy(() => Number(new URL(redis.url).port));
    work = { started: 0, finished: 0, ms: 0 };
    const redisUrl = `redis://127.0.0.1:${proxy.port}`;
    const log = createLogger({ level: 'silent' });
    queue = openQueue({ databaseUrl: 'postgresql://nobody@127.0.0.1:1/none', redisUrl, policies: [job], log });
    worker = queue.startWorker([job] as never, work, { closeTimeoutMs: 4000 });
    await queue.add(job.name, {}, { jobId: 'outbox-1' });
    await waitFor('the first job', () => work.finished === 1);
  });
  afterEach(async () => {
    await proxy.close();
    await redis.stop();
  });

  async function stop(): Promise<number> {
    const from = performance.now();
    await worker.close();
    await queue.close();
    return performance.now() - from;
  }

  test.each(['drop', 'hang', 'half-open'] as const)('does not wait for it (%s)', async (how) => {
    proxy.cut(how);
    await new Promise((resolve) => setTimeout(resolve, 300));
    expect(await stop()).toBeLessThan(3900);
  });

  test('still lets a job finish that runs', async () => {
    work.ms = 1500;
    await queue.add(job.name, {}, { jobId: 'outbox-2' });
    await waitFor('the second job', () => work.started === 2);
    proxy.cut('drop');
    await stop();
    expect(work.finished).toBe(2);
  });

  test('with Redis there, all is given back', async () => {
    await stop();
    const client = new Redis(redis.url);
    await waitFor('connections to go', async () => {
      const list = await client.client('LIST');
      return String(list).trim().split('\n').length === 1;
    });
    client.disconnect();
  });
});
