import { afterAll, beforeAll, expect, test } from 'vitest';
import {
  appendOutbox,
  giveUpOldRows,
  markDone,
  markFailed,
  purgeEndedRows,
  reviveLostRows,
} from '../../../src/platform/queue/outbox.ts';
import { startTestApp, type TestApp } from '../../support/app.ts';

let app: TestApp;
beforeAll(async () => {
  app = await startTestApp();
});
afterAll(() => app.close());

async function row(changes: {
  publishedAt?: Date;
  runAt?: Date;
  doneAt?: Date;
  failedAt?: Date;
  createdAt?: Date;
}): Promise<string> {
  const { prisma } = app.deps.db;
  const id = await appendOutbox(prisma, { name: 'entrant.tell', payload: {} });
  await prisma.outbox.update({ where: { id }, data: changes });
  return id;
}
const minutesAgo = (minutes: number) => new Date(Date.now() - minutes * 60_000);
const find = (id: string) => app.deps.db.prisma.outbox.findUniqueOrThrow({ where: { id } });

test('a job that should have run long ago and did not finish goes to the relay again', async () => {
  const lost = await row({ publishedAt: minutesAgo(11) });
  const lostDelayed = await row({ publishedAt: minutesAgo(90), runAt: minutesAgo(11) });
  const young = await row({ publishedAt: minutesAgo(9) });
  const notYetDue = await row({ publishedAt: minutesAgo(90), runAt: minutesAgo(-5) });
  const done = await row({ publishedAt: minutesAgo(90), doneAt: minutesAgo(89) });
  expect(await reviveLostRows(app.deps.db.pool)).toBe(2);
  expect((await find(lost)).publishedAt).toBeNull();
  expect((await find(lostDelayed)).publishedAt).toBeNull();
  for (const id of [young, notYetDue, done]) expect((await find(id)).publishedAt).not.toBeNull();
});

test('a finished job is noted once, and forgotten after 30 days', async () => {
  const fresh = await row({ publishedAt: minutesAgo(1) });
  await markDone(app.deps.db.pool, `outbox-${fresh}`);
  const first = (await find(fresh)).doneAt;
  expect(first).not.toBeNull();
  await markDone(app.deps.db.pool, `outbox-${fresh}`);
  expect((await find(fresh)).doneAt).toEqual(first);
  await markDone(app.deps.db.pool, 'repeat-something-else');
  const old = await row({ publishedAt: minutesAgo(60 * 24 * 32), doneAt: minutesAgo(60 * 24 * 31) });
  await purgeEndedRows(app.deps.db.pool);
  expect(await app.deps.db.prisma.outbox.count({ where: { id: { in: [old, fresh] } } })).toBe(1);
});

test('a job that failed for good is never added again, and forgotten after 30 days', async () => {
  const { pool, prisma } = app.deps.db;
  const failed = await row({ publishedAt: minutesAgo(20) });
  await markFailed(pool, `outbox-${failed}`, 'no such receiver');
  await reviveLostRows(pool);
  expect(await find(failed)).toMatchObject({ lastError: 'no such receiver', publishedAt: expect.any(Date) });
  await purgeEndedRows(pool);
  expect(await prisma.outbox.count({ where: { id: failed } })).toBe(1);
  await prisma.outbox.update({ where: { id: failed }, data: { failedAt: minutesAgo(60 * 24 * 31) } });
  await purgeEndedRows(pool);
  expect(await prisma.outbox.count({ where: { id: failed } })).toBe(0);
});

test('a job that nobody heard of for 30 days is given up, one that is not yet due is not', async () => {
  const old = minutesAgo(60 * 24 * 31);
  const silent = await row({ createdAt: old, publishedAt: minutesAgo(3) });
  const later = await row({ createdAt: old, publishedAt: old, runAt: minutesAgo(-60) });
  expect(await giveUpOldRows(app.deps.db.pool)).toBe(1);
  expect((await find(silent)).failedAt).not.toBeNull();
  expect((await find(later)).failedAt).toBeNull();
});

test('removes in bounded statements, and stops between two when it is told to', async () => {
  const { pool } = app.deps.db;
  const old = `INSERT INTO outbox (id, name, payload, done_at)
    SELECT gen_random_uuid(), 'entrant.tell', '{}', now() - interval '40 days' FROM generate_series(1, 4100)`;
  const left = async () =>
    Number(
      (await pool.query('SELECT count(*) FROM outbox WHERE done_at < now() - interval $$39 days$$')).rows[0].count,
    );
  await pool.query(old);
  await purgeEndedRows(pool, AbortSignal.abort());
  expect(await left()).toBe(4100);
  await purgeEndedRows(pool);
  expect(await left()).toBe(0);
});

test('every chore finds its rows by an index', async () => {
  const client = await app.deps.db.pool.connect();
  const served = {
    outbox_done: `SELECT id FROM outbox WHERE done_at < now() - interval '30 days' LIMIT 2000`,
    outbox_failed: `SELECT id FROM outbox WHERE failed_at < now() - interval '30 days' LIMIT 2000`,
    outbox_undone: `SELECT id FROM outbox WHERE done_at IS NULL AND failed_at IS NULL AND published_at < now()`,
    idempotency_expires_at_idx: 'SELECT FROM idempotency WHERE expires_at <= now() ORDER BY expires_at LIMIT 2000',
    webhook_deliveries_finished:
      'SELECT id FROM webhook_deliveries WHERE finished_at < now() ORDER BY finished_at LIMIT 2000',
    gate_checks_event_id_asked_at_idx: `SELECT id FROM gate_checks WHERE event_id = '019ab8f0-0000-7000-8000-00000000dead' AND contradicts IS NULL`,
  };
  try {
    await client.query('SET enable_seqscan = off');
    for (const [index, query] of Object.entries(served)) {
      const { rows } = await client.query(`EXPLAIN ${query}`);
      expect(rows.map((line) => line['QUERY PLAN']).join('\n')).toContain(index);
    }
  } finally {
    client.release(true);
  }
});
