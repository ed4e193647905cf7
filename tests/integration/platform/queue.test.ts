import { connect, createServer, type Socket } from 'node:net';
import pg from 'pg';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { z } from 'zod';
import { defineJob, type JobContext, type JobDefinition } from '../../../src/platform/queue/job.ts';
import { createLogger } from '../../../src/platform/logger.ts';
import { openQueue, type Queue } from '../../../src/platform/queue/queue.ts';
import type { WorkerSettings } from '../../../src/platform/queue/queue-worker.ts';
import { logLines } from '../../support/log.ts';
import { createTestDatabase, type TestDatabase } from '../../support/postgres.ts';
import { freePort, hasRedis, startRedis, type TestRedis } from '../../support/redis.ts';
import { waitFor } from '../../support/wait.ts';

type Run = { payload: { id: string }; context: JobContext };
type TestDeps = { runs: Run[]; fail(run: Run): Error | undefined; hold?: Promise<void> };

const job: JobDefinition<TestDeps, { id: string }> = defineJob({
  name: 'test.run',
  payload: z.strictObject({ id: z.string() }),
  attempts: 3,
  backoffMs: 20,
  async handle(deps, payload, context) {
    deps.runs.push({ payload, context });
    await deps.hold;
    const error = deps.fail({ payload, context });
    if (error !== undefined) throw error;
  },
});

const silent = createLogger({ level: 'silent' });

const QUICK = { lockDuration: 3000, stalledInterval: 1000 };

function newDeps(): TestDeps {
  return { runs: [], fail: () => undefined };
}

describe.each([
  { kind: 'postgres' as const, present: true },
  { kind: 'redis' as const, present: hasRedis() },
])('queue on $kind', ({ kind, present }) => {
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

  function open(log = silent, redisUrl = redis?.url): Queue {
    const queue = openQueue({ databaseUrl: database.url, redisUrl, policies: [job], log });
    toClose.push(() => queue.close());
    return queue;
  }

  function work(queue: Queue, deps: TestDeps, settings: Partial<WorkerSettings> = {}): { close(): Promise<void> } {
    const worker = queue.startWorker([job], deps, { ...QUICK, ...settings });
    toClose.push(() => worker.close());
    return worker;
  }

  // The producer of a queue that was just opened may not be connected yet; the relay tries again, so does the test.
  async function add(queue: Queue, id: string, options: { delayMs?: number; requestId?: string } = {}): Promise<void> {
    await waitFor(`the queue to take ${id}`, async () => {
      await queue.add('test.run', { id }, { jobId: `test-${id}`, ...options });
      return true;
    });
  }

  it.runIf(present)('runs a job with its payload, id and request', async () => {
    const queue = open();
    const deps = newDeps();
    work(queue, deps);
    await add(queue, 'one', { requestId: 'req-1' });
    const run = await waitFor('the run', () => deps.runs[0]);
    expect(queue.kind).toBe(kind);
    expect(run.payload).toEqual({ id: 'one' });
    expect(run.context).toMatchObject({ jobId: 'test-one', requestId: 'req-1', attempt: 1 });
    await queue.ping();
  });

  it.runIf(present)('ignores a second add with the same id', async () => {
    const queue = open();
    const deps = newDeps();
    await add(queue, 'twice');
    await add(queue, 'twice');
    work(queue, deps);
    await add(queue, 'twice-end');
    await waitFor('the last run', () => deps.runs.some((run) => run.payload.id === 'twice-end'));
    expect(deps.runs.filter((run) => run.payload.id === 'twice')).toHaveLength(1);
  });

  it.runIf(present)('waits for the delay', async () => {
    const queue = open();
    const deps = newDeps();
    work(queue, deps);
    const addedAt = performance.now();
    await add(queue, 'later', { delayMs: 400 });
    await waitFor('the run', () => deps.runs.length === 1);
    expect(performance.now() - addedAt).toBeGreaterThanOrEqual(390);
  });

  it.runIf(present)('tries again as often as the job says, then reports it as failed for good', async () => {
    const lines = logLines();
    const queue = open(lines.log);
    const deps = newDeps();
    deps.fail = ({ context }) => new Error(`try ${context.attempt}`);
    work(queue, deps);
    await add(queue, 'doomed', { requestId: 'req-2' });
    const line = await waitFor('the report', () => lines.find('error', 'job failed for good'));
    expect(deps.runs.map((run) => run.context.attempt)).toEqual([1, 2, 3]);
    expect(line).toMatchObject({ job: 'test.run', jobId: 'test-doomed', requestId: 'req-2', attempts: 3 });
  });

  it.runIf(present)('tells once, and with the reason, that a job failed for good', async () => {
    const queue = open();
    const deps = newDeps();
    deps.fail = ({ context }) => new Error(`try ${context.attempt}`);
    const told: [string, string][] = [];
    work(queue, deps, { onFailed: async (jobId, reason) => void told.push([jobId, reason]) });
    await add(queue, 'told');
    await waitFor('the word', () => told.length > 0);
    expect(told).toEqual([['test-told', 'try 3']]);
  });

  it.runIf(present)('gives up at once on a payload that does not parse', async () => {
    const lines = logLines();
    const queue = open(lines.log);
    const deps = newDeps();
    work(queue, deps);
    await waitFor('the add', async () => {
      await queue.add('test.run', { id: 7 }, { jobId: 'test-bad-payload' });
      return true;
    });
    await waitFor('the report', () => lines.find('error', 'job failed for good'));
    expect(deps.runs).toHaveLength(0);
  });

  it.runIf(present)('refuses a name that has no job', async () => {
    await expect(open().add('no.such', {}, { jobId: 'x-1' })).rejects.toThrow('no job is named "no.such"');
  });

  it.runIf(present)('lets a running job finish before a worker closes', async () => {
    const queue = open();
    const deps = newDeps();
    let release = () => undefined as void;
    deps.hold = new Promise<void>((resolve) => {
      release = resolve;
    });
    const worker = work(queue, deps);
    await add(queue, 'held');
    await waitFor('the run', () => deps.runs.length === 1);
    let closed = false;
    const closing = worker.close().then(() => {
      closed = true;
    });
    await add(queue, 'after-close');
    expect(closed).toBe(false);
    release();
    await closing;
    // A worker that was waiting for its next job may still have got one; then it finished that too. Nothing is lost.
    work(queue, deps);
    await waitFor('the other run', () => deps.runs.length === 2);
    expect(deps.runs.map((run) => run.payload.id)).toEqual(['held', 'after-close']);
  });

  if (kind === 'redis')
    it.runIf(present)('starts without Redis, refuses adds at once, and works when Redis is there', async () => {
      const port = await freePort();
      const queue = open(silent, `redis://127.0.0.1:${port}`);
      const deps = newDeps();
      work(queue, deps);
      await expect(queue.add('test.run', { id: 'no' }, { jobId: 'test-no' })).rejects.toThrow();
      await expect(queue.ping()).rejects.toThrow();
      const late = await startRedis(port);
      toClose.unshift(() => late.stop());
      await add(queue, 'first');
      await waitFor('the run', () => deps.runs.some((run) => run.payload.id === 'first'));
    });

  if (kind === 'postgres')
    it('goes on after the database dropped every connection of the queue', async () => {
      const queue = open();
      const deps = newDeps();
      work(queue, deps);
      await add(queue, 'before-drop');
      await waitFor('the first run', () => deps.runs.length === 1);
      await dropConnections(database.url);
      await add(queue, 'after-drop');
      await waitFor('the second run', () => deps.runs.some((run) => run.payload.id === 'after-drop'));
    });

  if (kind === 'postgres')
    it('starts without a database, and works when it is there', async () => {
      const port = await freePort();
      const queue = openQueue({ databaseUrl: withPort(database.url, port), policies: [job], log: silent });
      toClose.push(() => queue.close());
      const deps = newDeps();
      work(queue, deps);
      await expect(queue.add('test.run', { id: 'no' }, { jobId: 'test-no' })).rejects.toThrow();
      const forwarder = await forward(port, Number(new URL(database.url).port));
      toClose.unshift(() => forwarder.close());
      await add(queue, 'first-pg');
      await waitFor('the run', () => deps.runs.some((run) => run.payload.id === 'first-pg'));
    });

  if (kind === 'redis')
    it.runIf(present)('goes on after Redis crashed and came back', async () => {
      const queue = open();
      const deps = newDeps();
      work(queue, deps);
      await add(queue, 'before');
      await waitFor('the first run', () => deps.runs.length === 1);
      await redis?.crash();
      await expect(queue.add('test.run', { id: 'down' }, { jobId: 'test-down' })).rejects.toThrow();
      await redis?.restart();
      await waitFor('the queue to be back', () =>
        queue.add('test.run', { id: 'back' }, { jobId: 'test-back' }).then(
          () => true,
          () => false,
        ),
      );
      await waitFor('the second run', () => deps.runs.some((run) => run.payload.id === 'back'));
    });
});

async function dropConnections(url: string): Promise<void> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  const { rowCount } = await client.query(`SELECT pg_terminate_backend(pid) FROM pg_stat_activity
    WHERE datname = current_database() AND pid <> pg_backend_pid()`);
  expect(rowCount).toBeGreaterThan(1);
  await client.end();
}

function withPort(url: string, port: number): string {
  return Object.assign(new URL(url), { port: String(port) }).href;
}

/** A port that leads to another one: a database that appears late. */
async function forward(from: number, to: number): Promise<{ close(): Promise<void> }> {
  const sockets = new Set<Socket>();
  const server = createServer((incoming) => {
    const outgoing = connect(to, '127.0.0.1');
    for (const socket of [incoming, outgoing]) sockets.add(socket.on('error', () => undefined));
    incoming.pipe(outgoing).pipe(incoming);
  });
  await new Promise<void>((resolve) => {
    server.listen(from, '127.0.0.1', resolve);
  });
  return {
    async close() {
      for (const socket of sockets) socket.destroy();
      await new Promise((resolve) => {
        server.close(resolve);
      });
    },
  };
}
