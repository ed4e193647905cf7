import { afterAll, beforeAll, expect, test } from 'vitest';
import { decisionTime, openDatabaseClock } from '../../src/platform/clock.ts';
import { inTransaction } from '../../src/platform/database/db.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { settableClock } from '../support/clock.ts';
import { sql } from '../support/records.ts';
import { waitFor } from '../support/wait.ts';

const HOUR = 3_600_000;
/** This machine as it says, an hour or more behind what is true. */
const machine = { wallMs: Date.now() };
let t: TestApp;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());

test('a token that expired stays so on a machine whose clock is set back', async () => {
  const clock = openDatabaseClock(t.deps.db.pool, t.deps.log, {
    wall: () => machine.wallMs,
    steady: () => performance.now(),
  });
  await clock.start();
  const own = await startTestApp({ clock: { ...settableClock(new Date()), ...clock, now: clock.now } });
  try {
    const { tokenId, token } = await own.mint('marshal');
    const ask = () => own.api(undefined).get('/v1/own-token').set('authorization', `Bearer ${token}`);
    await sql(own, "UPDATE tokens SET expires_at = now() + interval '1 hour' WHERE id = $1", [tokenId]);
    expect((await ask()).status).toBe(200);
    await sql(own, "UPDATE tokens SET expires_at = now() - interval '1 minute' WHERE id = $1", [tokenId]);
    machine.wallMs -= HOUR;
    expect((await ask()).status).toBe(401);
    await clock.measure();
    expect((await ask()).status).toBe(401);
    const { body } = await own.api(undefined).get('/readyz').expect(200);
    expect(Math.abs(body.clock.differenceMs + HOUR)).toBeLessThan(60_000);
  } finally {
    clock.stop();
    await own.close();
  }
});

test('a decision is dated after the lock that it waited for, by the database', async () => {
  const { prisma } = t.deps.db;
  const { tokenId } = await t.mint('marshal');
  const clock = { now: () => new Date(0) };
  let release = () => {};
  const held = new Promise<void>((resolve) => {
    release = resolve;
  });
  const holder = inTransaction(prisma, async (tx) => {
    await tx.$queryRaw`SELECT 1 FROM tokens WHERE id = ${tokenId}::uuid FOR UPDATE`;
    await held;
  });
  await waitFor('the lock', async () => {
    const rows = await sql(t, 'SELECT 1 FROM tokens WHERE id = $1 FOR UPDATE SKIP LOCKED', [tokenId]);
    return rows.length === 0;
  });
  const decided = inTransaction(prisma, async (tx) => {
    await tx.$queryRaw`SELECT 1 FROM tokens WHERE id = ${tokenId}::uuid FOR UPDATE`;
    return decisionTime(tx, clock);
  });
  await waitFor('somebody who waits', async () => {
    const rows = await sql(t, "SELECT 1 FROM pg_stat_activity WHERE wait_event_type = 'Lock'");
    return rows.length > 0;
  });
  const [{ at: released } = { at: new Date(NaN) }] = await sql<{ at: Date }>(t, 'SELECT clock_timestamp() AS at');
  release();
  await holder;
  expect((await decided).getTime()).toBeGreaterThanOrEqual(released.getTime());
});

test('tests move decisions to an instant, or by an offset', async () => {
  const { prisma } = t.deps.db;
  const at = new Date('2026-06-14T12:00:00.123Z');
  expect(await inTransaction(prisma, (tx) => decisionTime(tx, settableClock(at)))).toEqual(at);
  const tomorrow = { now: () => new Date(), shift: () => ({ milliseconds: 24 * HOUR }) };
  const moved = await inTransaction(prisma, (tx) => decisionTime(tx, tomorrow));
  expect(Math.abs(moved.getTime() - Date.now() - 24 * HOUR)).toBeLessThan(60_000);
});
