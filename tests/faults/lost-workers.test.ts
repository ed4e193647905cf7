import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { z } from 'zod';
import { defineJob } from '../../src/platform/queue/job.ts';
import { createLogger } from '../../src/platform/logger.ts';
import { openQueue } from '../../src/platform/queue/queue.ts';
import { createTestDatabase, type TestDatabase } from '../support/postgres.ts';
import { hasRedis, startRedis, type TestRedis } from '../support/redis.ts';
import { waitFor } from '../support/wait.ts';
import { openProxy } from './proxy.ts';

interface Work {
  started: number;
  finished: number;
  hold: Promise<void>;
}

const job = defineJob<Work, Record<string, never>>({
  name: 'test.lost',
  payload: z.strictObject({}) as z.ZodType<Record<string, never>>,
  attempts: 2,
  backoffMs: 50,
  async handle(work) {
    work.started += 1;
    await work.hold;
    work.finished += 1;
  },
});

const LOSSES = 4;
const QUICK = { lockDuration: 1000, stalledInterval: 500, closeTimeoutMs: 500 };
const log = createLogger({ level: 'silent' });

// A fault run found it: a job that two crashes of the database in a row took from its worker was given up for good,
// and its row of the outbox was never done.
describe.each([
  { kind: 'postgres' as const, present: true },
  { kind: 'redis' as const, present: hasRedis() },
])('a job whose workers are lost one after the other, queue on $kind', ({ kind, present }) => {
  let database: TestDatabase;
  let redis: TestRedis | undefined;
  let toClose: (() => Promise<unknown>)[] = [];

  beforeAll(async () => {
    if (!present) return;
    database = await createTestDatabase({ empty: true });
    if (kind === 'redis') redis = await startRedis();
  });
  afterEach(async () => {
    for (const close of toClose.toReversed()) await close();
    toClose = [];
  });
  afterAll(async () => {
    await redis?.stop();
    await database?.drop();
  });

  /** A queue with a worker on a connection of their own, that can be cut. */
  async function start(work: Work) {
    const behind = new URL(redis?.url ?? database.url);
    const proxy = await openProxy(() => Number(behind.port));
    const at = Object.assign(new URL(behind), { port: String(proxy.port), hostname: '127.0.0.1' }).href;
    const urls = redis === undefined ? { databaseUrl: at } : { databaseUrl: database.url, redisUrl: at };
    const queue = openQueue({ ...urls, policies: [job], log });
    const worker = queue.startWorker([job] as never, work, QUICK);
    let mend = () => undefined as unknown;
    toClose.push(async () => {
      mend();
      await worker.close();
      await queue.close();
      await proxy.close();
    });
    return { queue, lose: () => (mend = proxy.cut('drop')) };
  }

  test.skipIf(!present)('is run until one finishes it', { timeout: 60_000 }, async () => {
    let release = () => undefined as unknown;
    const hold = new Promise<void>((resolve) => (release = resolve));
    toClose.push(async () => release());
    for (let loss = 1; loss <= LOSSES; loss += 1) {
      const work: Work = { started: 0, finished: 0, hold };
      const { queue, lose } = await start(work);
      if (loss === 1)
        await waitFor('the job to be taken', () => queue.add(job.name, {}, { jobId: 'outbox-1' }).then(() => true));
      await waitFor(`worker ${loss} to take the job`, () => work.started === 1);
      lose();
    }
    const work: Work = { started: 0, finished: 0, hold: Promise.resolve() };
    await start(work);
    await waitFor('the last worker to finish it', () => work.finished === 1);
    expect(work).toMatchObject({ started: 1, finished: 1 });
  });
});
