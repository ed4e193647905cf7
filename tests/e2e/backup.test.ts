import { execFile } from 'node:child_process';
import { mkdtemp, readdir, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type DataFolder, killServers, makeDataFolder, startServer } from '../support/server-process.ts';

const root = dirname(dirname(dirname(fileURLToPath(import.meta.url))));
const VENUE = { name: 'Backup ring', timeZone: 'Europe/Berlin' };
const folders: DataFolder[] = [];
let out: string;

beforeAll(async () => {
  out = await mkdtemp(join(tmpdir(), 'gridworthy-backup-'));
}, 180_000);
afterAll(async () => {
  await killServers();
  for (const folder of folders) await folder.remove();
  await rm(out, { recursive: true, force: true });
});

async function dataFolder(options?: { fresh: boolean }): Promise<DataFolder> {
  const folder = await makeDataFolder(options);
  folders.push(folder);
  return folder;
}

/** What `npm run backup` and `npm run restore` do after the build. */
function run(command: 'backup' | 'restore', file: string, dataDir: string) {
  return new Promise<{ code: number; output: string }>((resolve) => {
    const cli = join(root, `dist/src/backup/${command}-cli.js`);
    const env = { PATH: process.env['PATH'], DATA_DIR: dataDir };
    execFile(process.execPath, [cli, file], { cwd: root, env }, (error, stdout, stderr) => {
      resolve({ code: typeof error?.code === 'number' ? error.code : 0, output: stdout + stderr });
    });
  });
}

const ask = (base: string, token: string, path: string, init: RequestInit = {}) =>
  fetch(`${base}/v1${path}`, {
    ...init,
    headers: { authorization: `Bearer ${token}`, 'content-type': 'application/json' },
  });

test('a running server is backed up, and comes back in an empty folder', async () => {
  const [data, elsewhere] = [await dataFolder(), await dataFolder({ fresh: true })];
  const server = await startServer({ DATA_DIR: data.path });
  const token = server.firstToken ?? '';
  const made = await ask(server.base, token, '/venues', { method: 'POST', body: JSON.stringify(VENUE) });
  expect(made.status).toBe(201);
  const file = join(out, 'running.backup');

  const backup = await run('backup', file, data.path);
  expect(backup.output).toMatch(/running\.backup: \d+ rows, 0 photos, \d+ bytes\n {2}SHA-256 [0-9a-f]{64}\n/);
  expect(backup.code).toBe(0);
  expect((await ask(server.base, token, '/venues')).status).toBe(200);

  // A server at work is no place to restore into.
  const busy = await run('restore', file, data.path);
  expect(busy).toMatchObject({ code: 2, output: expect.stringContaining('in use by another server') });
  expect(await server.end('SIGTERM')).toBe(0);
  const full = await run('restore', file, data.path);
  expect(full).toMatchObject({ code: 2, output: expect.stringContaining('not empty') });

  const restored = await run('restore', file, elsewhere.path);
  expect(restored).toMatchObject({ code: 0, output: expect.stringMatching(/^restored: \d+ rows, 0 photos, 0 events/) });
  const again = await startServer({ DATA_DIR: elsewhere.path });
  expect(again.firstToken).toBeUndefined();
  const venues = (await (await ask(again.base, token, '/venues')).json()) as { venues: unknown[] };
  expect(venues.venues).toMatchObject([VENUE]);
  expect(await again.end('SIGTERM')).toBe(0);
});

test('a stopped server is backed up; without a file name nothing happens', async () => {
  const data = await dataFolder();
  const server = await startServer({ DATA_DIR: data.path });
  expect(await server.end('SIGTERM')).toBe(0);
  const file = join(out, 'stopped.backup');
  expect((await run('backup', file, data.path)).code).toBe(0);
  expect(await data.database()).toBeUndefined();
  const twice = await run('backup', file, data.path);
  expect(twice).toMatchObject({ code: 2, output: expect.stringContaining('exists already') });
  const missing = await run('restore', join(out, 'none.backup'), (await dataFolder({ fresh: true })).path);
  expect(missing).toMatchObject({ code: 2, output: expect.stringContaining('ENOENT') });
});

test('a backup that is ordered is made by the worker and brought back', async () => {
  const [data, kept] = [await dataFolder(), await mkdtemp(join(out, 'kept-'))];
  const server = await startServer({ DATA_DIR: data.path, BACKUP_TO: kept, BACKUP_EVERY_HOURS: '0' });
  const token = server.firstToken ?? '';
  expect((await ask(server.base, token, '/server/backups', { method: 'POST' })).status).toBe(202);
  const newest = async () => {
    const { backups } = (await (await ask(server.base, token, '/server')).json()) as {
      backups: { making: boolean; newest: { verified: string | null; error: string | null }[] };
    };
    return { making: backups.making, newest: backups.newest.map(({ verified, error }) => ({ verified, error })) };
  };
  await expect
    .poll(newest, { timeout: 120_000, interval: 500 })
    .toEqual({ making: false, newest: [{ verified: 'restored', error: null }] });
  expect(await readdir(kept)).toEqual([expect.stringMatching(/^gridworthy-.*\.backup$/)]);
  expect(await server.end('SIGTERM')).toBe(0);
}, 240_000);
