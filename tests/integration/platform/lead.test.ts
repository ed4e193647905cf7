import pg from 'pg';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openDatabase } from '../../../src/platform/database/db.ts';
import { createLogger } from '../../../src/platform/logger.ts';
import { LEAD_LOCK, LEAD_NAME, openLead } from '../../../src/platform/queue/lead.ts';
import { type Chore, startKeeper } from '../../../src/platform/queue/job.ts';
import { startJobs } from '../../../src/worker.ts';
import { startTestApp, type TestApp } from '../../support/app.ts';
import { waitFor } from '../../support/wait.ts';

const log = createLogger({ level: 'silent' });
const EVERY_MS = 10;
let t: TestApp;
let admin: pg.Client;
beforeAll(async () => {
  t = await startTestApp();
  admin = new pg.Client({ connectionString: t.databaseUrl });
  await admin.connect();
});
afterAll(async () => {
  await admin.end();
  await t.close();
});

/** A process that keeps house, with a pool of its own. */
function member(chores: Record<string, Chore>, patience: { aliveEveryMs?: number; silentMs?: number } = {}) {
  const db = openDatabase({ url: t.databaseUrl, poolSize: 2, log });
  const lead = openLead({ pool: db.pool, log, ...patience });
  const keeper = startKeeper(lead.only(chores), log, EVERY_MS);
  return {
    async stop() {
      await keeper.stop();
      await lead.stop();
      await db.close();
    },
  };
}

/** A chore that notes who does it, and how many do it at the same time. */
function watched() {
  const runs: string[] = [];
  const now = new Set<string>();
  let most = 0;
  const by =
    (who: string): Chore =>
    async (signal) => {
      now.add(who);
      most = Math.max(most, now.size);
      runs.push(who);
      await new Promise((resolve) => setTimeout(resolve, EVERY_MS));
      now.delete(who);
      return signal;
    };
  const turns = (who: string) => runs.filter((one) => one === who).length;
  return { by, turns, most: () => most };
}

/** The processes that lead a chore, by their connection, each with how many. */
async function leaders(): Promise<{ pid: number; chores: number }[]> {
  const { rows } = await admin.query<{ pid: number; chores: number }>(
    `SELECT pid, count(*)::int AS chores FROM pg_locks
      WHERE locktype = 'advisory' AND classid = $1 AND granted
        AND database = (SELECT oid FROM pg_database WHERE datname = current_database())
      GROUP BY pid`,
    [LEAD_LOCK],
  );
  return rows;
}

test('a chore is done by one process, and by the next when the first one stops', async () => {
  const { by, turns, most } = watched();
  const first = member({ tidy: by('first') });
  await waitFor('the first', () => turns('first') > 0);
  const second = member({ tidy: by('second') });
  const before = turns('first');
  await waitFor('more turns', () => turns('first') > before + 20);
  expect(turns('second')).toBe(0);
  await first.stop();
  await waitFor('the second', () => turns('second') > 0);
  await second.stop();
  expect(most()).toBe(1);
  expect(await leaders()).toEqual([]);
});

test('a process that has no part in a chore does not keep it from others', async () => {
  const { by, turns } = watched();
  const without = member({ tidy: by('without') });
  await waitFor('the one without', () => turns('without') > 0);
  const other = member({ tidy: by('other'), mail: by('mail') });
  await waitFor('the mail', () => turns('mail') > 0);
  expect(turns('other')).toBe(0);
  await without.stop();
  await other.stop();
});

test('who loses the connection is told while it works, and another takes over', async () => {
  const told: string[] = [];
  const { by, turns } = watched();
  const long: Chore = async (signal) => {
    told.push('began');
    await new Promise((resolve) => signal.addEventListener('abort', resolve, { once: true }));
    told.push('cut off');
  };
  const first = member({ tidy: long });
  await waitFor('the first', () => told.includes('began'));
  const second = member({ tidy: by('second') });
  const [leader] = await leaders();
  await admin.query('SELECT pg_terminate_backend($1)', [leader?.pid]);
  await waitFor('the end of the first', () => told.includes('cut off'));
  // Either may be the next one.
  await waitFor('a new leader', async () => {
    const [next] = await leaders();
    return next !== undefined && next.pid !== leader?.pid;
  });
  await first.stop();
  await waitFor('the second', () => turns('second') > 0);
  await second.stop();
});

test('who is silent for too long loses the lead, also with its connection open', async () => {
  const { by, turns } = watched();
  let begun = 0;
  // Frozen: it shows no life, and its chore never comes back until it is let go.
  let letGo: (value?: unknown) => void = () => undefined;
  const frozen: Chore = async () => {
    begun += 1;
    await new Promise((resolve) => (letGo = resolve));
  };
  const first = member({ tidy: frozen }, { aliveEveryMs: 3_600_000, silentMs: 300 });
  await waitFor('the first', () => begun > 0);
  const second = member({ tidy: by('second') }, { aliveEveryMs: 50, silentMs: 300 });
  await waitFor('the second', () => turns('second') > 0);
  // And who shows that it lives keeps it.
  const [leader] = await leaders();
  const before = turns('second');
  await waitFor('more than the silence', () => turns('second') > before + 50);
  expect((await leaders()).map(({ pid }) => pid)).toEqual([leader?.pid]);
  letGo();
  await first.stop();
  await second.stop();
});

test('two workers do each thing that is done from time to time once', async () => {
  const led = async () => (await leaders()).reduce((sum, { chores }) => sum + chores, 0);
  const connected = async () => {
    const { rowCount } = await admin.query(
      'SELECT 1 FROM pg_stat_activity WHERE application_name = $1 AND datname = current_database()',
      [LEAD_NAME],
    );
    return rowCount;
  };
  const first = startJobs(t.deps, t.databaseUrl);
  // Lost, late and ended jobs, times of the line, used keys, deliveries, checks at the gate, imports, names.
  await waitFor('every chore', async () => (await led()) >= 9);
  const [leader] = await leaders();
  const second = startJobs(t.deps, t.databaseUrl);
  await waitFor('the second', async () => (await connected()) === 2);
  await second.stop();
  expect(await leaders()).toEqual([leader]);
  await first.stop();
  await waitFor('nobody', async () => (await led()) === 0);
});
