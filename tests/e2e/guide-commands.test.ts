import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { cpSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type DataFolder, makeDataFolder } from '../support/server-process.ts';
import { waitFor } from '../support/wait.ts';
import { type Club, setUpClub } from './club.ts';
import { send } from './http.ts';

// The commands of the guide as they stand there, but for names of folders, in a folder as a packed build makes it: with
// what is compiled and without sources, so that nothing is compiled while other tests run.
const ROOT = new URL('../..', import.meta.url).pathname;
const home = mkdtempSync(join(tmpdir(), 'gridworthy-guide-'));
const at = (name: string) => join(home, name);
const running = new Set<ReturnType<typeof run>>();
const folders: DataFolder[] = [];
let data: DataFolder;

beforeAll(async () => {
  mkdirSync(at('src'));
  for (const name of ['package.json', 'src/run.mjs', 'src/build.mjs', 'src/deploy'])
    cpSync(join(ROOT, name), at(name), { recursive: true });
  for (const name of ['dist', 'node_modules']) symlinkSync(join(ROOT, name), at(name));
  mkdirSync(at('backups'));
  writeFileSync(at('passphrase'), 'four plain words here\n');
  data = await folder();
}, 240_000);
afterAll(async () => {
  // A failed test left them: the group has npm, its shell and the server.
  for (const { child } of running) if (child.pid !== undefined) process.kill(-child.pid, 'SIGKILL');
  for (const one of folders) await one.remove();
  rmSync(home, { recursive: true, force: true });
});

async function folder(options?: { fresh: boolean }): Promise<DataFolder> {
  const made = await makeDataFolder(options);
  folders.push(made);
  return made;
}

/** Starts a command of the guide; `others` says what of it is called otherwise here. */
function run(command: string, { env = {}, others = {} }: { env?: object; others?: Record<string, string> } = {}) {
  const text = Object.entries(others).reduce((all, [name, here]) => all.replaceAll(name, here), command);
  const child = spawn('sh', ['-euc', text], {
    cwd: home,
    env: {
      PATH: process.env['PATH'],
      HOME: home,
      PORT: '0',
      DATA_DIR: data.path,
      npm_config_loglevel: 'error',
      ...env,
    },
    stdio: ['ignore', 'pipe', 'pipe'],
    detached: true,
  });
  let output = '';
  for (const stream of [child.stdout, child.stderr]) stream.on('data', (chunk) => (output += String(chunk)));
  const ended = once(child, 'close').then(() => ({ code: child.exitCode, output }));
  const one = { child, ended, output: () => output };
  running.add(one);
  void ended.then(() => running.delete(one));
  return one;
}

const done = (...args: Parameters<typeof run>) => run(...args).ended;

/** Waits until a started server says where its API is. */
async function ready(server: ReturnType<typeof run>): Promise<string> {
  const api = () =>
    /"api":"([^"]+)\/v1"[^\n]*Gridworthy is ready|Gridworthy is ready[^\n]*"api":"([^"]+)\/v1"/.exec(server.output());
  await waitFor('the server', () => api() !== null || server.child.exitCode !== null, 120_000);
  const found = api();
  if (found === null) throw new Error(server.output());
  return found[1] ?? found[2] ?? '';
}

/** Stops a server by the process that its folder names: a signal for npm would not reach it. */
async function stop(server: ReturnType<typeof run>): Promise<void> {
  const { pid } = JSON.parse(readFileSync(join(data.path, 'server.lock'), 'utf8')) as { pid: number };
  process.kill(pid, 'SIGTERM');
  expect((await server.ended).code, server.output()).toBe(0);
}

/** The backups that lie in the folder of the commands. */
const backups = () => readdirSync(at('backups')).filter((name) => name.startsWith('gridworthy-'));

test('a day of an operator: start with backups, one by hand, a token that was lost, a drill, the history, and all of it elsewhere', async () => {
  const others = { '/srv/gridworthy-backups': at('backups'), '/etc/gridworthy/backup-passphrase': at('passphrase') };
  const keeping = { BACKUP_TO: at('backups'), BACKUP_PASSPHRASE_FILE: at('passphrase') };
  const start = 'BACKUP_TO=/srv/gridworthy-backups BACKUP_PASSPHRASE_FILE=/etc/gridworthy/backup-passphrase npm start';
  const server = run(start, { others });
  const base = await ready(server);
  const token = /First organizer token .*: (\S+)/.exec(server.output())?.[1] ?? '';
  const club: Club = await setUpClub(base, token);
  await waitFor('the first backup', () => server.output().includes('"backup made"'), 120_000);
  expect(backups()).toHaveLength(1);

  const made = await done('npm run token -- organizer');
  const again = /: (gw_\S+)/.exec(made.output)?.[1] ?? '';
  expect((await send(base, { path: '/v1/tokens', token: again })).status, made.output).toBe(200);

  const byHand = await done('npm run backup', { env: keeping });
  expect(byHand.code, byHand.output).toBe(0);
  expect(backups()).toHaveLength(2);
  const drill = await done('npm run backup:drill', { env: keeping });
  expect(drill.code, drill.output).toBe(0);
  for (const name of backups()) expect(drill.output).toContain(name);
  const written = await done('npm run backup -- <file>', { others: { '<file>': at('by-hand.backup') } });
  expect(written.code, written.output).toBe(0);
  // It never replaces one.
  expect((await done('npm run backup -- <file>', { others: { '<file>': at('by-hand.backup') } })).code).toBe(2);

  await stop(server);

  const verified = await done('npm run audit:verify');
  expect(verified.code, verified.output).toBe(0);
  const head = new RegExp(`${club.eventId} .*head (\\d+) ([0-9a-f]+)`).exec(verified.output);
  const noted = { '<event>': club.eventId, '<seq>': head?.[1] ?? '', '<hash>': head?.[2] ?? '' };
  const held = await done('npm run audit:verify -- <event> <seq> <hash>', { others: noted });
  expect(held.code, held.output).toBe(0);
  const other = { ...noted, '<hash>': '0'.repeat(64) };
  expect((await done('npm run audit:verify -- <event> <seq> <hash>', { others: other })).code).toBe(1);

  const elsewhere = await folder({ fresh: true });
  const back = { '<new folder>': elsewhere.path, '<file>': at('by-hand.backup') };
  const restored = await done('DATA_DIR=<new folder> npm run restore -- <file>', { others: back });
  expect(restored.code, restored.output).toBe(0);
  expect((await done('npm run audit:verify', { env: { DATA_DIR: elsewhere.path } })).output).toContain(club.eventId);
}, 400_000);

test('a start behind a proxy speaks of the address people use', async () => {
  const server = run('PUBLIC_URL=https://tech.example.org TRUST_PROXY=127.0.0.1 npm start');
  expect(await ready(server)).toBe('https://tech.example.org');
  await stop(server);
});

test('secrets for containers are made where they are said to be, and the token of the organizer is read there', async () => {
  const made = await done('sh src/deploy/container/make-secrets.sh');
  expect(made.code, made.output).toBe(0);
  expect((await done('cat .data/secrets/organizer-token')).output).toMatch(/^[0-9a-f]{64}$/);
  const elsewhere = await done('sh src/deploy/container/make-secrets.sh', { env: { SECRETS: at('elsewhere') } });
  expect(elsewhere.output).toContain(at('elsewhere/organizer-token'));
});
