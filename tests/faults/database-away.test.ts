import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { z } from 'zod';
import { defineJob } from '../../src/platform/queue/job.ts';
import { createLogger } from '../../src/platform/logger.ts';
import { openQueue } from '../../src/platform/queue/queue.ts';
import { createTestDatabase, type TestDatabase } from '../support/postgres.ts';
import { hasRedis, startRedis, type TestRedis } from '../support/redis.ts';
import { waitFor } from '../support/wait.ts';

interface Work {
  attempts: number[];
  awayFor: number;
}

const ATTEMPTS = 2;
const job = defineJob<Work, Record<string, never>>({
  name: 'test.away',
  payload: z.strictObject({}) as z.ZodType<Record<string, never>>,
  attempts: ATTEMPTS,
  backoffMs: 20,
  async handle(work, _, { attempt }) {
    work.attempts.push(attempt);
    if (work.attempts.length <= work.awayFor) throw Object.assign(new Error('connect'), { code: 'ECONNREFUSED' });
  },
});

// With Redis up and PostgreSQL down for some minutes, jobs used up their attempts, and nothing gave them new ones.
describe.each([
  { kind: 'postgres' as const, present: true },
  { kind: 'redis' as const, present: hasRedis() },
])('a job while the database is away, queue on $kind', ({ kind, present }) => {
  let database: TestDatabase;
  let redis: TestRedis | undefined;
  let toClose: (() => Promise<void>)[] = [];

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

  async function run(work: Work, settings: { awayPauseMs: number; awayPauses?: number }): Promise<void> {
    const log = createLogger({ level: 'silent' });
    const queue = openQueue({ databaseUrl: database.url, redisUrl: redis?.url, policies: [job], log });
    const worker = queue.startWorker([job] as never, work, settings);
    toClose.push(async () => {
      await worker.close();
      await queue.close();
    });
    await waitFor('the job to be taken', () =>
      queue.add(job.name, {}, { jobId: `outbox-${work.awayFor}` }).then(
        () => true,
        () => false,
      ),
    );
  }

  test.skipIf(!present)('waits for it without using up its attempts', async () => {
    const work: Work = { attempts: [], awayFor: 3 * ATTEMPTS };
    await run(work, { awayPauseMs: 50 });
    await waitFor('the end of the outage', () => work.attempts.length > work.awayFor);
    expect(new Set(work.attempts)).toEqual(new Set([1]));
  });

  test.skipIf(!present)('but not for ever', async () => {
    const work: Work = { attempts: [], awayFor: 1000 };
    await run(work, { awayPauseMs: 20, awayPauses: 4 });
    await waitFor('the last attempt', () => work.attempts.includes(ATTEMPTS));
    await new Promise((resolve) => setTimeout(resolve, 500));
    expect(work.attempts).toEqual([1, 1, 1, 1, 1, ATTEMPTS]);
  });
});
