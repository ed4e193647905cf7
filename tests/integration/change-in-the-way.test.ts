import { afterAll, afterEach, beforeAll, expect, test } from 'vitest';
import { findCollision, isDatabaseDown } from '../../src/platform/database/db.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { createTestEntry, createTestEvent, type TestEntry } from '../support/event.ts';

let t: TestApp;
let entry: TestEntry;
beforeAll(async () => {
  t = await startTestApp({ own: true });
  entry = await createTestEntry(t, await createTestEvent(t));
});
afterAll(() => t.close());
afterEach(() => t.deps.db.pool.query('DROP TRIGGER IF EXISTS lose ON holds'));

const hold = () => t.api('chief').post(`/v1/entries/${entry.entryId}/holds`).send({ reason: 'oil leak' });
const holds = () => t.deps.db.prisma.hold.count();

/** Every hold fails with this SQLSTATE, the first `times` times. */
async function losing(state: string, times: number): Promise<void> {
  const { pool } = t.deps.db;
  // A sequence counts on although the transaction is rolled back.
  await pool.query('DROP SEQUENCE IF EXISTS losses; CREATE SEQUENCE losses');
  await pool.query(`CREATE OR REPLACE FUNCTION lose() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
      IF nextval('losses') <= ${times} THEN RAISE EXCEPTION 'lost' USING ERRCODE = '${state}'; END IF;
      RETURN NEW;
    END $$`);
  await pool.query('CREATE TRIGGER lose BEFORE INSERT ON holds FOR EACH ROW EXECUTE FUNCTION lose()');
}

test.each([
  ['a deadlock', '40P01'],
  ['a serialization failure', '40001'],
])('%s is tried again without a word', async (_, state) => {
  const before = await holds();
  await losing(state, 2);
  expect((await hold()).status).toBe(201);
  expect(await holds()).toBe(before + 1);
});

test.each([
  ['a deadlock', '40P01', /came in between/],
  ['a serialization failure', '40001', /came in between/],
  ['a lock timeout', '55P03', /took too long/],
])('%s that stays is said as what it is, with when to try again', async (_, state, reason) => {
  const before = await holds();
  await losing(state, 99);
  const answer = await hold();
  expect(answer.status).toBe(503);
  expect(answer.body.type).toMatch(/change-in-the-way$/);
  expect(answer.body.detail).toMatch(reason);
  expect(answer.body.detail).not.toMatch(/database/);
  expect(Number(answer.headers['retry-after'])).toBeGreaterThan(0);
  expect(await holds()).toBe(before);
});

test('a row that somebody else holds for long is a lock timeout, not a database that is away', async () => {
  const client = await t.deps.db.pool.connect();
  try {
    await client.query('BEGIN');
    await client.query('SELECT FROM clearances WHERE entry_id = $1 FOR UPDATE', [entry.entryId]);
    const answer = await hold();
    expect(answer.status).toBe(503);
    expect(answer.body.type).toMatch(/change-in-the-way$/);
  } finally {
    await client.query('ROLLBACK');
    client.release();
  }
  expect((await hold()).status).toBe(201);
});

test('none of these is taken for a database that is down, however the error is wrapped', () => {
  for (const code of ['40001', '40P01', '55P03']) {
    const plain = Object.assign(new Error('lost'), { code });
    const wrapped = { code: 'P2010', meta: { driverAdapterError: { cause: { originalCode: code } } } };
    for (const error of [plain, wrapped]) {
      expect(findCollision(error)).toBeDefined();
      expect(isDatabaseDown(error)).toBe(false);
    }
  }
  expect(findCollision(Object.assign(new Error('unreachable'), { code: 'ECONNREFUSED' }))).toBeUndefined();
});
