import { v7 as uuidV7 } from 'uuid';
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest';
import { startJobs } from '../../src/worker.ts';
import { queueState } from '../../src/features/service/server-routes.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { sql } from '../support/records.ts';

let t: TestApp;
beforeAll(async () => {
  t = await startTestApp({ own: true });
});
afterAll(() => t.close());

const read = async () => (await t.api('organizer').get('/v1/server').expect(200)).body;

/** A job that failed for good, as the outbox keeps it. */
async function failedJob(reason = 'no answer within 15 s'): Promise<string> {
  const id = uuidV7();
  await t.deps.db.prisma.outbox.create({
    data: {
      id,
      name: 'mail.send',
      payload: { mailId: uuidV7() },
      publishedAt: new Date(),
      failedAt: new Date(),
      lastError: reason,
    },
  });
  return id;
}
const again = (jobId: string) => t.api('organizer').post(`/v1/server/jobs/${jobId}/again`);

test('says who runs jobs from the connection on which each waits, and that nobody does', async () => {
  expect(await read()).toMatchObject({ workers: [], queue: { kind: 'postgres', state: 'nobody' } });
  const jobs = startJobs(t.deps, t.databaseUrl);
  onTestFinished(() => jobs.stop());
  await expect.poll(async () => (await read()).workers.length, { timeout: 20_000 }).toBe(1);
  await expect.poll(async () => (await read()).queue.state, { timeout: 20_000 }).toBe('working');
  const other = startJobs(t.deps, t.databaseUrl);
  await expect.poll(async () => (await read()).workers.length, { timeout: 20_000 }).toBe(2);
  await other.stop();
  await expect.poll(async () => (await read()).workers.length, { timeout: 20_000 }).toBe(1);
});

test('what the queue does not take is stuck, what it does not finish is late', () => {
  const calm = {
    waiting: 1,
    failing: 0,
    oldestWaitingSeconds: 60,
    unfinished: 1,
    oldestUnfinishedSeconds: 600,
    failed: 3,
  };
  expect(queueState(1, calm)).toBe('working');
  expect(queueState(0, calm)).toBe('nobody');
  expect(queueState(1, { ...calm, oldestWaitingSeconds: 60.1 })).toBe('stuck');
  expect(queueState(1, { ...calm, failing: 1 })).toBe('stuck');
  expect(queueState(1, { ...calm, oldestUnfinishedSeconds: 600.1 })).toBe('late');
});

test('a job that failed is ordered anew under another id, once, and done', async () => {
  const jobId = await failedJob();
  const { failedJobs, queue } = await read();
  expect(failedJobs).toMatchObject([{ jobId, name: 'mail.send', reason: 'no answer within 15 s' }]);
  expect(queue.failed).toBe(1);
  const ordered = await again(jobId).expect(202);
  expect(ordered.body.jobId).not.toBe(jobId);
  expect((await again(jobId)).status).toBe(404);
  expect(await read()).toMatchObject({ failedJobs: [], queue: { failed: 0, waiting: 1 } });
  const waiting = await again(ordered.body.jobId);
  expect([waiting.status, waiting.body.currentState]).toEqual([409, 'not-failed']);
  const jobs = startJobs(t.deps, t.databaseUrl);
  onTestFinished(() => jobs.stop());
  const isDone = () => sql<{ done: boolean }>(t, `SELECT done_at IS NOT NULL AS done FROM outbox`);
  await expect.poll(isDone, { timeout: 20_000 }).toEqual([{ done: true }]);
});

test('two who order the same job at once order one', async () => {
  const jobId = await failedJob();
  const answers = await Promise.all([again(jobId), again(jobId), again(jobId)]);
  expect(answers.map(({ status }) => status).toSorted()).toEqual([202, 404, 404]);
});

test('a backup is ordered once while it is being made, and not where none is kept', async () => {
  const order = () => t.api('organizer').post('/v1/server/backups');
  const off = await order();
  expect([off.status, off.body.currentState]).toEqual([409, 'off']);
  expect((await read()).backups).toMatchObject({ place: null, making: false, newest: [] });
  t.deps.config.backup = { to: { folder: '/nowhere' }, everyHours: 0, keep: 3, passphrase: undefined };
  onTestFinished(() => {
    t.deps.config.backup = undefined;
  });
  const answers = await Promise.all([order(), order()]);
  expect(answers.map(({ status }) => status).toSorted()).toEqual([202, 409]);
  expect((await read()).backups).toMatchObject({ place: '/nowhere', everyHours: 0, keep: 3, making: true });
});
