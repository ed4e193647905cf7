import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  type Database,
  inTransaction,
  isUniqueViolation,
  isWriteConflict,
  openDatabase,
} from '../../../src/platform/database/db.ts';
import { createLogger } from '../../../src/platform/logger.ts';
import { createTestDatabase, type TestDatabase } from '../../support/postgres.ts';

let base: TestDatabase;
let database: Database;

beforeAll(async () => {
  base = await createTestDatabase();
  database = openDatabase({ url: base.url, poolSize: 5, log: createLogger({ level: 'silent' }) });
  await database.pool.query(
    'CREATE TABLE plate (number text CONSTRAINT plate_number_once UNIQUE, half int CHECK (half > 0))',
  );
  await database.pool.query('CREATE TABLE counter (id int PRIMARY KEY, value int NOT NULL)');
  await database.pool.query('INSERT INTO counter VALUES (1, 0), (2, 0)');
});

afterAll(async () => {
  await database?.close();
  await base?.drop();
});

async function errorOf(run: () => Promise<unknown>): Promise<unknown> {
  return run().then(
    () => {
      throw new Error('no error');
    },
    (error: unknown) => error,
  );
}

describe('isUniqueViolation', () => {
  it('understands the plain driver', async () => {
    const insert = () => database.pool.query(`INSERT INTO plate VALUES ('7', 1)`);
    await insert();
    const error = await errorOf(insert);
    expect(isUniqueViolation(error)).toBe(true);
    expect(isUniqueViolation(error, 'plate_number_once')).toBe(true);
    expect(isUniqueViolation(error, 'another_once')).toBe(false);
  });

  it('understands raw statements through Prisma, in and out of a transaction', async () => {
    const insert = (db: Pick<Database['prisma'], '$executeRaw'>) => db.$executeRaw`INSERT INTO plate VALUES ('07', 1)`;
    await insert(database.prisma);
    const errors = [
      await errorOf(async () => insert(database.prisma)),
      await errorOf(() => inTransaction(database.prisma, async (tx) => insert(tx))),
    ];
    for (const error of errors) {
      expect(isUniqueViolation(error, 'plate_number_once')).toBe(true);
      expect(isUniqueViolation(error, 'another_once')).toBe(false);
    }
  });

  it('understands model calls of Prisma', async () => {
    const id = '0197a3f0-0000-7000-8000-000000000001';
    const create = () => database.prisma.outbox.create({ data: { id, name: 'test.note', payload: {} } });
    await create();
    const error = await errorOf(create);
    expect(isUniqueViolation(error, 'outbox_pkey')).toBe(true);
    expect(isUniqueViolation(error, 'another_once')).toBe(false);
  });

  it('is false for other refusals and for what is no error', async () => {
    const check = await errorOf(() => database.pool.query(`INSERT INTO plate VALUES ('8', -1)`));
    for (const error of [check, new Error('23505'), undefined, null, '23505'])
      expect(isUniqueViolation(error)).toBe(false);
  });
});

describe('inTransaction', () => {
  it('commits what the function wrote and returns its result', async () => {
    const result = await inTransaction(database.prisma, async (tx) => {
      await tx.$executeRaw`INSERT INTO plate VALUES ('21', 1)`;
      return 'done';
    });
    expect(result).toBe('done');
    expect((await database.pool.query(`SELECT 1 FROM plate WHERE number = '21'`)).rowCount).toBe(1);
  });

  it('rolls back when the function throws, and throws the same', async () => {
    const failure = new Error('changed my mind');
    const failing = inTransaction(database.prisma, async (tx) => {
      await tx.$executeRaw`INSERT INTO plate VALUES ('22', 1)`;
      throw failure;
    });
    expect(await errorOf(() => failing)).toBe(failure);
    expect((await database.pool.query(`SELECT 1 FROM plate WHERE number = '22'`)).rowCount).toBe(0);
  });

  it('runs again after a deadlock: two that lock in opposite order both succeed', async () => {
    let runs = 0;
    const gate = meeting();
    const both = (first: number, second: number) =>
      inTransaction(database.prisma, async (tx) => {
        runs += 1;
        await tx.$executeRaw`UPDATE counter SET value = value + 1 WHERE id = ${first}`;
        await gate.arrive();
        await tx.$executeRaw`UPDATE counter SET value = value + 1 WHERE id = ${second}`;
      });
    await Promise.all([both(1, 2), both(2, 1)]);
    expect(runs).toBe(3);
    const { rows } = await database.pool.query('SELECT value FROM counter ORDER BY id');
    expect(rows).toEqual([{ value: 2 }, { value: 2 }]);
  });

  it('runs again after a serialization failure, and gives up after three tries', async () => {
    let runs = 0;
    const losing = inTransaction(database.prisma, async (tx) => {
      runs += 1;
      await tx.$executeRaw`DO $$ BEGIN RAISE EXCEPTION 'lost' USING ERRCODE = 'serialization_failure'; END $$`;
    });
    expect(isWriteConflict(await errorOf(() => losing))).toBe(true);
    expect(runs).toBe(3);
  });

  it('does not run again for anything else', async () => {
    let runs = 0;
    const failing = inTransaction(database.prisma, async (tx) => {
      runs += 1;
      await tx.$executeRaw`INSERT INTO plate VALUES ('9', -1)`;
    });
    await expect(failing).rejects.toThrow();
    expect(runs).toBe(1);
  });
});

describe('openDatabase', () => {
  it('bounds every wait on the server', async () => {
    const names = ['statement_timeout', 'lock_timeout', 'idle_in_transaction_session_timeout'];
    for (const name of names) {
      const { rows } = await database.pool.query(`SELECT current_setting($1) <> '0' AS bounded`, [name]);
      expect(rows).toEqual([{ bounded: true }]);
    }
  });

  it('survives a connection that is lost in the middle of a transaction', async () => {
    const client = await database.pool.connect();
    const { rows } = await client.query('SELECT pg_backend_pid() AS pid');
    await client.query('BEGIN');
    await database.pool.query('SELECT pg_terminate_backend($1)', [rows[0].pid]);
    await expect(client.query('SELECT 1')).rejects.toThrow();
    client.release(true);
    expect((await database.pool.query('SELECT 1 AS one')).rows).toEqual([{ one: 1 }]);
  });
});

/** Lets the first two callers pass together; later ones at once. */
function meeting(): { arrive(): Promise<void> } {
  let arrived = 0;
  let open: () => void = () => undefined;
  const both = new Promise<void>((resolve) => {
    open = resolve;
  });
  return {
    async arrive() {
      arrived += 1;
      if (arrived >= 2) open();
      await both;
    },
  };
}
