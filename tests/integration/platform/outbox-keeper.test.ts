import { afterAll, beforeAll, expect, test } from 'vitest';
import { appendOutbox } from '../../../src/platform/outbox.ts';
import { markDone, purgeDoneRows, reviveLostRows } from '../../../src/platform/outbox-keeper.ts';
import { startTestApp, type TestApp } from '../../support/app.ts';

let app: TestApp;
beforeAll(async () => {
  app = await startTestApp();
});
afterAll(() => app.close());

async function row(changes: { publishedAt?: Date; runAt?: Date; doneAt?: Date }): Promise<string> {
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
  await purgeDoneRows(app.deps.db.pool);
  expect(await app.deps.db.prisma.outbox.count({ where: { id: { in: [old, fresh] } } })).toBe(1);
});
