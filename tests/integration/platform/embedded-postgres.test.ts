import { spawn } from 'node:child_process';
import { chmod, chown, mkdtemp, readFile, rm, stat, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import pg from 'pg';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { type EmbeddedPostgres, startEmbeddedPostgres } from '../../../src/platform/database/embedded-postgres.ts';
import { createLogger } from '../../../src/platform/logger.ts';
import { chooseLauncher, locateBinaries } from '../../../src/platform/database/launcher.ts';
import { findPostgresIn } from '../../../src/platform/database/server-lock.ts';
import { startServerProcess } from '../../../src/platform/database/server-process.ts';
import { type Child, startChild } from '../../support/child.ts';
import { copyUsedFolder } from '../../support/used-folder.ts';
import { waitFor } from '../../support/wait.ts';

const CHILD = 'embedded-postgres-child';
const isRoot = process.getuid?.() === 0;
const nobody = { uid: 65_534, gid: 65_534 };

let folder: string;
let dataDir: string;
const toStop: (() => Promise<unknown>)[] = [];

beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'gridworthy-pg-'));
  await chmod(folder, 0o711);
  dataDir = join(folder, 'data');
});

afterEach(async () => {
  for (const stop of toStop.splice(0).toReversed()) await stop();
  await rm(folder, { recursive: true, force: true });
});

async function start(onUnexpectedEnd?: () => void): Promise<EmbeddedPostgres> {
  const log = createLogger({ level: 'silent' });
  const database = await startEmbeddedPostgres({ dataDir, log, onUnexpectedEnd });
  toStop.push(() => database.stop());
  return database;
}

async function child(user?: { uid: number; gid: number }): Promise<Child> {
  const started = await startChild(CHILD, [dataDir], user);
  toStop.push(() => started.end('SIGTERM'));
  return started;
}

async function query(url: unknown, sql: string): Promise<Record<string, unknown>[]> {
  const client = new pg.Client({ connectionString: String(url) });
  await client.connect();
  try {
    return (await client.query(sql)).rows;
  } finally {
    await client.end();
  }
}

const writeRow = (url: unknown) => query(url, 'CREATE TABLE kept AS SELECT 42 AS answer');
const readRow = (url: unknown) => query(url, 'SELECT answer FROM kept');

describe('embedded database', () => {
  it('starts on a fresh folder with full durability, only on this machine, with a password', async () => {
    const { url } = await start();
    const settings = await query(
      url,
      `SELECT name, setting FROM pg_settings WHERE name IN
      ('fsync', 'synchronous_commit', 'full_page_writes', 'listen_addresses', 'server_encoding')`,
    );
    expect(Object.fromEntries(settings.map((row) => [row['name'], row['setting']]))).toEqual({
      fsync: 'on',
      synchronous_commit: 'on',
      full_page_writes: 'on',
      listen_addresses: '127.0.0.1',
      server_encoding: 'UTF8',
    });
    const wrong = Object.assign(new URL(url), { password: 'wrong' }).href;
    await expect(query(wrong, 'SELECT 1')).rejects.toMatchObject({ code: '28P01' });
    expect((await stat(join(dataDir, 'postgres.password'))).mode & 0o777).toBe(0o600);
  });

  it.runIf(isRoot)('works as a normal user', async () => {
    await chown(folder, nobody.uid, nobody.gid);
    const { said } = await child(nobody);
    await writeRow(said['url']);
    expect((await stat(join(dataDir, 'postgres'))).uid).toBe(nobody.uid);
  });

  it.runIf(isRoot)('says what is wrong when a normal user gets a folder that root made', async () => {
    await (await start()).stop();
    expect((await child(nobody)).said['error']).toContain('cannot be written by this user');
    await chown(dataDir, nobody.uid, nobody.gid);
    expect((await child(nobody)).said['error']).toMatch(
      /belongs to user \d+: start the server as that user or as root/,
    );
  });

  it.runIf(isRoot)('works as root in a folder that only root may enter', async () => {
    await chmod(folder, 0o700);
    const { url } = await start();
    await writeRow(url);
    expect((await stat(join(dataDir, 'postgres'))).uid).not.toBe(0);
  });
});

describe('embedded database in a folder that it was in', () => {
  beforeEach(() => copyUsedFolder(dataDir));

  it('keeps its data over a restart', async () => {
    const first = await start();
    await writeRow(first.url);
    await first.stop();
    const second = await start();
    expect(await readRow(second.url)).toEqual([{ answer: 42 }]);
  });

  it('keeps what was committed when its server is killed, and starts again', async () => {
    const killed = await child();
    await writeRow(killed.said['url']);
    await killed.end('SIGKILL');
    const again = await start();
    expect(await readRow(again.url)).toEqual([{ answer: 42 }]);
  });

  it('keeps what was committed when server and database are killed, and starts again', async () => {
    const killed = await child();
    await writeRow(killed.said['url']);
    const postmaster = Number(killed.said['pid']);
    killed.process.kill('SIGKILL');
    process.kill(postmaster, 'SIGKILL');
    await killed.end('SIGKILL');
    const again = await start();
    expect(await readRow(again.url)).toEqual([{ answer: 42 }]);
  });

  it('stops a database that a killed server left running, and starts its own', async () => {
    await (await start()).stop();
    const data = join(dataDir, 'postgres');
    const binaries = await locateBinaries();
    const launcher = await chooseLauncher(binaries, dataDir, data);
    const plan = { binaries, launcher, folder: data, logFile: join(dataDir, 'postgres.log'), settings: {} };
    const orphan = await startServerProcess(plan);
    expect(findPostgresIn(data)).toContain(orphan.pid);
    const own = await start();
    expect(own.pid).not.toBe(orphan.pid);
    expect(findPostgresIn(data)).not.toContain(orphan.pid);
    await query(own.url, 'SELECT 1');
  });

  it('starts although the process number of the dead database belongs to another process now', async () => {
    const first = await start();
    await first.stop();
    const other = spawn('sleep', ['60']);
    toStop.push(async () => other.kill());
    const pidFile = join(dataDir, 'postgres', 'postmaster.pid');
    await writeFile(pidFile, `${other.pid}\n${join(dataDir, 'postgres')}\n1\n5432\n\n127.0.0.1\n\nready\n`);
    await query((await start()).url, 'SELECT 1');
    expect(other.exitCode).toBeNull();
  });

  it('refuses a folder that another living server works on, and leaves that one alone', async () => {
    const first = await child();
    await expect(start()).rejects.toThrow(new RegExp(`in use by another server \\(process ${first.process.pid}\\)`));
    await query(first.said['url'], 'SELECT 1');
  });

  it.each([
    ['deleted', (lock: string) => rm(lock)],
    ['damaged', (lock: string) => writeFile(lock, '{"pid": ')],
    ['of somebody else', (lock: string) => writeFile(lock, JSON.stringify({ pid: 2 ** 22 + 7, startedAt: 'ago' }))],
  ])('refuses a folder whose lock was %s while its server lives, and leaves that one alone', async (_, harm) => {
    const first = await child();
    await harm(join(dataDir, 'server.lock'));
    await expect(start()).rejects.toThrow(new RegExp(`in use by another server \\(process ${first.process.pid}\\)`));
    await query(first.said['url'], 'SELECT 1');
    await expect(start()).rejects.toThrow('in use by another server');
  });

  it('lets exactly one of several servers that start at once have the folder', async () => {
    await writeFile(join(dataDir, 'server.lock'), JSON.stringify({ pid: 2 ** 22 + 7, startedAt: 'long ago' }));
    const started = await Promise.all([child(), child(), child()].map((one) => one.catch((error: unknown) => error)));
    const winners = started.filter((one) => !(one instanceof Error) && (one as Child).said['url'] !== undefined);
    expect(winners).toHaveLength(1);
  });

  it('takes over a lock whose process number belongs to another process now', async () => {
    await writeFile(join(dataDir, 'server.lock'), JSON.stringify({ pid: process.pid, startedAt: 'another life' }));
    await query((await start()).url, 'SELECT 1');
    expect(JSON.parse(await readFile(join(dataDir, 'server.lock'), 'utf8'))).toMatchObject({ pid: process.pid });
  });

  it('tells when the database ends by itself', async () => {
    let told = 0;
    const database = await start(() => {
      told += 1;
    });
    process.kill(database.pid, 'SIGKILL');
    await waitFor('the report', () => told === 1);
  });
});
