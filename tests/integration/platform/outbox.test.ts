import pg from 'pg';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { z } from 'zod';
import { type Database, inTransaction, openDatabase } from '../../../src/platform/database/db.ts';
import { defineJob } from '../../../src/platform/queue/job.ts';
import { createLogger } from '../../../src/platform/logger.ts';
import { appendOutbox, type OutboxEntry } from '../../../src/platform/queue/outbox.ts';
import { startRelay } from '../../../src/platform/queue/outbox-relay.ts';
import { openQueue, type Queue } from '../../../src/platform/queue/queue.ts';
import { settableClock } from '../../support/clock.ts';
import { logLines } from '../../support/log.ts';
import { createTestDatabase, type TestDatabase } from '../../support/postgres.ts';
import { freePort, hasRedis, startRedis, type TestRedis } from '../../support/redis.ts';
import { waitFor } from '../../support/wait.ts';

type TestDeps = { seen: { id: string; jobId: string; requestId: string | null }[] };

const job = defineJob<TestDeps, { id: string }>({
  name: 'test.note',
  payload: z.strictObject({ id: z.string() }),
  attempts: 2,
  backoffMs: 20,
  async handle(deps, payload, { jobId, requestId }) {
    deps.seen.push({ id: payload.id, jobId, requestId });
  },
});

const silent = createLogger({ level: 'silent' });

describe.each([
  { kind: 'postgres' as const, present: true },
  { kind: 'redis' as const, present: hasRedis() },
])('outbox over a queue on $kind', ({ kind, present }) => {
  let base: TestDatabase;
  let database: Database;
  let redis: TestRedis | undefined;
  let toStop: (() => Promise<unknown>)[] = [];

  beforeAll(async () => {
    if (!present) return;
    base = await createTestDatabase();
    database = openDatabase({ url: base.url, poolSize: 5, log: silent });
    if (kind === 'redis') redis = await startRedis();
  });

  afterEach(async () => {
    for (const stop of toStop.toReversed()) await stop();
    toStop = [];
    await database?.pool.query('DELETE FROM outbox');
  });

  afterAll(async () => {
    await database?.close();
    await redis?.stop();
    await base?.drop();
  });

  function openTestQueue(redisUrl = redis?.url): Queue {
    const queue = openQueue({ databaseUrl: base.url, redisUrl, policies: [job], log: silent });
    toStop.push(() => queue.close());
    return queue;
  }

  function work(queue: Queue): TestDeps {
    const deps: TestDeps = { seen: [] };
    const worker = queue.startWorker([job], deps);
    toStop.push(() => worker.close());
    return deps;
  }

  function relay(
    queue: Pick<Queue, 'add'>,
    options: { addTimeoutMs?: number; pollMs?: number; log?: typeof silent } = {},
  ) {
    const running = startRelay({ pool: database.pool, queue, log: silent, pollMs: 100, ...options });
    toStop.push(() => running.stop());
    return running;
  }

  const append = (id: string, more: Partial<OutboxEntry> = {}) =>
    inTransaction(database.prisma, (tx) => appendOutbox(tx, { name: 'test.note', payload: { id }, ...more }));

  async function rowOf(
    id: string,
  ): Promise<{ published_at: Date | null; attempts: number; last_error: string | null }> {
    const { rows } = await database.pool.query('SELECT published_at, attempts, last_error FROM outbox WHERE id = $1', [
      id,
    ]);
    return rows[0];
  }

  const published = (id: string) => waitFor('the stamp', async () => (await rowOf(id)).published_at !== null);

  it.runIf(present)('delivers a committed row once, with its id and request, and stamps it', async () => {
    const queue = openTestQueue();
    const deps = work(queue);
    relay(queue);
    const id = await append('a', { requestId: 'req-9' });
    await published(id);
    await waitFor('the run', () => deps.seen.length > 0);
    expect(deps.seen).toEqual([{ id: 'a', jobId: `outbox-${id}`, requestId: 'req-9' }]);
    expect(await rowOf(id)).toMatchObject({ attempts: 1, last_error: null });
  });

  it.runIf(present)('is woken by the commit and does not wait for the next poll', async () => {
    const queue = openTestQueue();
    relay(queue, { pollMs: 60_000 });
    await published(await append('first'));
    const committedAt = performance.now();
    await published(await append('second'));
    expect(performance.now() - committedAt).toBeLessThan(10_000);
  });

  it.runIf(present)('knows nothing of a row whose transaction was rolled back', async () => {
    const failing = inTransaction(database.prisma, async (tx) => {
      await appendOutbox(tx, { name: 'test.note', payload: { id: 'never' } });
      throw new Error('rolled back');
    });
    await expect(failing).rejects.toThrow('rolled back');
    expect((await database.pool.query('SELECT 1 FROM outbox')).rowCount).toBe(0);
  });

  it.runIf(present)('delays a job until its instant', async () => {
    const start = '2026-06-01T08:00:00.000Z';
    const added: number[] = [];
    const running = startRelay({
      pool: database.pool,
      queue: { add: async (_name, _payload, options) => void added.push(options.delayMs ?? -1) },
      log: silent,
      pollMs: 100,
      clock: settableClock(start),
    });
    toStop.push(() => running.stop());
    await published(await append('soon', { runAt: new Date('2026-06-01T08:00:05.000Z') }));
    await published(await append('past', { runAt: new Date('2026-06-01T07:00:00.000Z') }));
    expect(added).toEqual([5000, -3_600_000]);
  });

  it.runIf(present)('adds again with the same id when it dies between add and stamp: one run', async () => {
    const queue = openTestQueue();
    const deps = work(queue);
    const jobIds: string[] = [];
    const dying: Pick<Queue, 'add'> = {
      async add(name, payload, options) {
        await queue.add(name, payload, options);
        jobIds.push(options.jobId);
        // The relay's transaction is lost here, after the queue has the job.
        if (jobIds.length === 1) await killRelayTransactions(base.url);
      },
    };
    relay(dying);
    const id = await append('once');
    await published(id);
    await waitFor('the run', () => deps.seen.length > 0);
    expect(jobIds).toEqual([`outbox-${id}`, `outbox-${id}`]);
    await published(await append('after'));
    await waitFor('the later run', () => deps.seen.some((one) => one.id === 'after'));
    expect(deps.seen.filter((one) => one.id === 'once')).toHaveLength(1);
  });

  it.runIf(present)('never takes a late add for one that did not happen', async () => {
    const queue = openTestQueue();
    const deps = work(queue);
    let slow = true;
    const late: Pick<Queue, 'add'> = {
      async add(name, payload, options) {
        await queue.add(name, payload, options);
        if (slow) await new Promise((resolve) => setTimeout(resolve, 1500));
      },
    };
    relay(late, { addTimeoutMs: 300 });
    const id = await append('late');
    await waitFor('a first failure', async () => (await rowOf(id)).attempts > 0);
    const row = await rowOf(id);
    expect(row).toMatchObject({ published_at: null, last_error: 'no answer within 300 ms' });
    slow = false;
    await published(id);
    await waitFor('the run', () => deps.seen.length > 0);
    expect(deps.seen).toEqual([{ id: 'late', jobId: `outbox-${id}`, requestId: null }]);
  });

  it.runIf(present)('keeps a job without a handler in the outbox and lets the others pass', async () => {
    const queue = openTestQueue();
    const deps = work(queue);
    relay(queue);
    const stuck = await append('stuck', { name: 'no.such' });
    await published(await append('passes'));
    await waitFor('the run', () => deps.seen.some((one) => one.id === 'passes'));
    expect(await rowOf(stuck)).toMatchObject({ published_at: null, last_error: 'no job is named "no.such"' });
  });

  it.runIf(present)('reports rows that wait for over ten minutes as an error', async () => {
    const lines = logLines();
    const id = await append('old', { name: 'no.such' });
    await database.pool.query(`UPDATE outbox SET created_at = now() - interval '11 minutes' WHERE id = $1`, [id]);
    relay(openTestQueue(), { log: lines.log });
    const line = await waitFor('the report', () => lines.find('error', 'outbox rows wait for over 10 minutes'));
    expect(line).toMatchObject({ rows: 1 });
  });

  it.runIf(present)('publishes each row once when several relays work', async () => {
    const queue = openTestQueue();
    const added: string[] = [];
    const counting: Pick<Queue, 'add'> = {
      async add(name, payload, options) {
        added.push(options.jobId);
        await queue.add(name, payload, options);
      },
    };
    const ids = await Promise.all(Array.from({ length: 120 }, (_, index) => append(`many-${index}`)));
    for (let count = 0; count < 3; count += 1) relay(counting);
    await Promise.all(ids.map(published));
    expect(added.toSorted()).toEqual(ids.map((id) => `outbox-${id}`).toSorted());
  });

  it.runIf(present)('publishes what was committed before the stop', async () => {
    const running = relay(openTestQueue(), { pollMs: 60_000 });
    const id = await append('last');
    await running.stop();
    expect((await rowOf(id)).published_at).not.toBeNull();
  });

  it.runIf(present)('publishes what was committed while its last pass was under way', async () => {
    const queue = openTestQueue();
    let begun = false;
    let mayGoOn = false;
    const slow: Pick<Queue, 'add'> = {
      async add(...args) {
        begun = true;
        await waitFor('the stop', () => mayGoOn);
        await queue.add(...args);
      },
    };
    await append('under way');
    const running = relay(slow, { pollMs: 60_000 });
    await waitFor('the pass', () => begun);
    const id = await append('during the pass');
    const stopped = running.stop();
    mayGoOn = true;
    await stopped;
    expect((await rowOf(id)).published_at).not.toBeNull();
  });

  if (kind === 'redis')
    it.runIf(present)('delivers later what was written while the queue was down at start', async () => {
      const port = await freePort();
      const queue = openTestQueue(`redis://127.0.0.1:${port}`);
      const deps = work(queue);
      relay(queue);
      const id = await append('patient');
      await waitFor('a failure', async () => (await rowOf(id)).attempts > 0);
      expect((await rowOf(id)).published_at).toBeNull();
      const late = await startRedis(port);
      toStop.unshift(() => late.stop());
      await published(id);
      await waitFor('the run', () => deps.seen.length === 1);
    });
});

/** Ends the sessions that hold outbox rows in an open transaction, as a crash of the relay would. */
async function killRelayTransactions(url: string): Promise<void> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  await client.query(`SELECT pg_terminate_backend(pid) FROM pg_stat_activity
    WHERE datname = current_database() AND application_name = 'gridworthy-db' AND state = 'idle in transaction'`);
  await client.end();
}
