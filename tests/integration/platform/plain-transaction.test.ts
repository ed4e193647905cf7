import { afterAll, beforeAll, beforeEach, expect, test } from 'vitest';
import { type Database, openDatabase, RunAgain } from '../../../src/platform/database/db.ts';
import { inPlainTransaction, mustChange, writeAtOnce } from '../../../src/platform/database/plain-transaction.ts';
import { createLogger } from '../../../src/platform/logger.ts';
import { Prisma } from '../../../src/platform/prisma-client/client.ts';
import { createTestDatabase, type TestDatabase } from '../../support/postgres.ts';

let base: TestDatabase;
let database: Database;

beforeAll(async () => {
  base = await createTestDatabase();
  database = openDatabase({ url: base.url, poolSize: 2, log: createLogger({ level: 'silent' }) });
  await database.pool.query('CREATE TABLE counter (id int PRIMARY KEY, value int NOT NULL)');
});
beforeEach(async () => {
  await database.pool.query('TRUNCATE counter');
  await database.pool.query('INSERT INTO counter VALUES (1, 0)');
});
afterAll(async () => {
  await database?.close();
  await base?.drop();
});

const LOCK = Prisma.sql`SELECT value FROM counter WHERE id = 1 FOR UPDATE`;
const READ = Prisma.sql`SELECT value, pg_sleep(0.01) FROM counter WHERE id = 1`;
const raise = (id: number) => Prisma.sql`UPDATE counter SET value = value + 1 WHERE id = ${id} RETURNING id`;

async function values(): Promise<number[]> {
  const { rows } = await database.pool.query<{ value: number }>('SELECT value FROM counter ORDER BY id');
  return rows.map(({ value }) => value);
}

test('the last statement is committed when its rows are there', async () => {
  const rows = await inPlainTransaction(database.pool, (tx) => tx.commitWith<{ id: number }>(raise(1)));
  expect(rows).toEqual([{ id: 1 }]);
  expect(await values()).toEqual([1]);
});

test('what the last statement refuses takes all before it back, and its error is the one that is thrown', async () => {
  const refused = inPlainTransaction(database.pool, async (tx) => {
    await tx.rows(raise(1));
    await tx.commitWith(Prisma.sql`INSERT INTO counter VALUES (1, 5)`);
  });
  await expect(refused).rejects.toMatchObject({ code: '23505', constraint: 'counter_pkey' });
  expect(await values()).toEqual([0]);
});

test('a refusal in the middle ends what was sent along with it, and keeps nothing', async () => {
  const refused = inPlainTransaction(database.pool, async (tx) => {
    await tx.rows(raise(1));
    await Promise.all([tx.rows(Prisma.sql`SELECT 1 / (value - 1) FROM counter`), tx.rows(raise(1))]);
  });
  await expect(refused).rejects.toMatchObject({ code: '22012' });
  expect(await values()).toEqual([0]);
});

test('an error of the code itself rolls back what was done', async () => {
  const thrown = inPlainTransaction(database.pool, async (tx) => {
    await tx.rows(raise(1));
    throw new Error('no');
  });
  await expect(thrown).rejects.toThrow('no');
  expect(await values()).toEqual([0]);
});

test('what is read in the packet of the lock is read after the wait for it', async () => {
  const seen: number[] = [];
  const add = () =>
    inPlainTransaction(database.pool, async (tx) => {
      const [, [row]] = await Promise.all([tx.rows(LOCK), tx.rows<{ value: number }>(READ)]);
      seen.push(row?.value ?? -1);
      await tx.commitWith(Prisma.sql`UPDATE counter SET value = ${(row?.value ?? 0) + 1} WHERE id = 1`);
    });
  await Promise.all(Array.from({ length: 20 }, add));
  expect(seen).toEqual(Array.from({ length: 20 }, (_, at) => at));
  expect(await values()).toEqual([20]);
});

test('where a part changes no row that must, everything runs again', async () => {
  let tries = 0;
  const raised = () =>
    inPlainTransaction(database.pool, async (tx) => {
      tries += 1;
      await tx.rows(Prisma.sql`INSERT INTO counter VALUES (2, 0)`);
      await tx.commitWith(writeAtOnce({ raised: raise(tries === 1 ? 3 : 1) }, mustChange('raised')));
    });
  await raised();
  expect(tries).toBe(2);
  expect(await values()).toEqual([1, 0]);
});

test('and is given up where it never does', async () => {
  const never = inPlainTransaction(database.pool, (tx) =>
    tx.commitWith(writeAtOnce({ raised: raise(3), other: raise(1) }, mustChange('raised'))),
  );
  await expect(never).rejects.toBeInstanceOf(RunAgain);
  expect(await values()).toEqual([0]);
});

test('a connection that is lost in a transaction is not used again', async () => {
  const cut = Prisma.sql`SELECT pg_terminate_backend(pg_backend_pid())`;
  for (let round = 0; round < 3; round += 1) {
    const lost = inPlainTransaction(database.pool, async (tx) => {
      await tx.rows(raise(1));
      await Promise.all([tx.rows(cut), tx.commitWith(raise(1))]);
    });
    await expect(lost).rejects.toThrow(/terminat/i);
  }
  expect(await values()).toEqual([0]);
  expect(await inPlainTransaction(database.pool, (tx) => tx.rows(Prisma.sql`SELECT 1 AS one`))).toEqual([{ one: 1 }]);
});
