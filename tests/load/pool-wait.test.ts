import pg from 'pg';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type PoolWait, watchPool } from '../../src/platform/database/db.ts';
import { createTestDatabase, type TestDatabase } from '../support/postgres.ts';
import { waitFor } from '../support/wait.ts';

let database: TestDatabase;
let pool: pg.Pool;
let watch: PoolWait;

beforeEach(async () => {
  database = await createTestDatabase({ empty: true });
  pool = new pg.Pool({ connectionString: database.url, max: 2 });
  watch = watchPool(pool, 20);
});
afterEach(async () => {
  watch.stop();
  await pool.end();
  await database.drop();
});

const ask = (seconds: number) => pool.query('SELECT pg_sleep($1)', [seconds]);

test('nobody waits where connections are free', async () => {
  await ask(0);
  await ask(0);
  await waitFor('a look at a free pool', () => watch.waitMs() < 20);
});

test('the wait grows while all connections are held, and is over when they are free', async () => {
  const held = [await pool.connect(), await pool.connect()];
  await waitFor('half a second of waiting', () => watch.waitMs() > 500);
  for (const client of held) client.release();
  await waitFor('the end of it', () => watch.waitMs() < 100);
});

test('a queue behind long questions promises a long wait at once, one behind short ones does not', async () => {
  await Promise.all(Array.from({ length: 60 }, () => ask(0)));
  const short = Array.from({ length: 60 }, () => ask(0));
  await new Promise((resolve) => setImmediate(resolve));
  // Little's law (from memory): what waits, times how long each takes, by how many are served side by side.
  expect(watch.waitMs()).toBeLessThan(2000);
  await Promise.all(short);
  await Promise.all(Array.from({ length: 40 }, () => ask(0.1)));
  const long = Array.from({ length: 60 }, () => ask(0.1));
  // The pool hands its free connections out at the end of the turn.
  await new Promise((resolve) => setImmediate(resolve));
  expect(watch.waitMs()).toBeGreaterThan(1000);
  await Promise.all(long);
});
