import { execFile } from 'node:child_process';
import { cp, mkdir, mkdtemp, readFile, rm, utimes, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { promisify } from 'node:util';
import { afterEach, beforeEach, expect, test } from 'vitest';

const run = promisify(execFile);
const ROOT = new URL('../../..', import.meta.url).pathname;

/** A compiler that notes that it ran and writes what ours would. */
const compiler = (name: string, ...outputs: string[]) => `
  const { appendFileSync, mkdirSync, writeFileSync } = require('node:fs');
  appendFileSync('ran', '${name} ');
  for (const path of ${JSON.stringify(outputs)}) {
    mkdirSync(require('node:path').dirname(path), { recursive: true });
    writeFileSync(path, "console.log('started with', ...process.argv.slice(2))");
  }`;

/** Writes the client of the pages, as ours does. */
const GENERATOR = `
  import { appendFileSync, mkdirSync, writeFileSync } from 'node:fs';
  appendFileSync('ran', 'client ');
  mkdirSync('src/web/api', { recursive: true });
  writeFileSync('src/web/api/operations.ts', 'client');`;

let folder: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'gridworthy-build-'));
  for (const name of ['build.mjs', 'run.mjs', 'prepare.mjs'])
    await cp(join(ROOT, 'src', name), join(folder, 'src', name));
  const files = {
    'package.json': '{"type":"module"}',
    'package-lock.json': '{}',
    'tsconfig.json': '{}',
    'src/server.ts': 'server',
    'src/domain/quantity.ts': 'both',
    'src/web/page.ts': 'page',
    'openapi/generate.ts': '',
    'seed/demo.ts': '',
    'prisma/migrate.ts': '',
    'dist/openapi/generate.js': GENERATOR,
    'node_modules/typescript/package.json': '{"type":"commonjs"}',
    'node_modules/typescript/bin/tsc': compiler('server', 'dist/src/server.js', 'dist/.tsbuildinfo'),
    'node_modules/vite/package.json': '{"type":"commonjs"}',
    'node_modules/vite/bin/vite.js': compiler('pages', 'dist/web/office/index.html'),
  };
  for (const [path, content] of Object.entries(files)) await write(path, content);
});
afterEach(() => rm(folder, { recursive: true, force: true }));

async function write(path: string, content: string): Promise<void> {
  await mkdir(dirname(join(folder, path)), { recursive: true });
  await writeFile(join(folder, path), content);
}

const start = (...args: string[]) => run(process.execPath, ['src/run.mjs', 'src/server.js', ...args], { cwd: folder });

/** Starts, and gives what was compiled for it. */
async function compiled(): Promise<string[]> {
  await write('ran', '');
  await start();
  return (await readFile(join(folder, 'ran'), 'utf8')).split(' ').filter(Boolean);
}

test('a start compiles what changed, and nothing when nothing did', async () => {
  expect(await compiled()).toEqual(['server', 'client', 'pages']);
  expect(await compiled()).toEqual([]);
  await write('src/server.ts', 'server, changed');
  expect(await compiled()).toEqual(['server', 'client']);
  await write('src/web/page.ts', 'page, changed');
  expect(await compiled()).toEqual(['pages']);
  await write('src/domain/quantity.ts', 'both, changed');
  expect(await compiled()).toEqual(['server', 'client', 'pages']);
  await write('package-lock.json', '{"other":"packages"}');
  expect(await compiled()).toEqual(['server', 'client', 'pages']);
});

test('a file that was only touched compiles nothing', async () => {
  await compiled();
  await utimes(join(folder, 'src/server.ts'), new Date(), new Date());
  expect(await compiled()).toEqual([]);
});

test('what somebody else compiled, or deleted, is compiled again', async () => {
  await compiled();
  await write('dist/.tsbuildinfo', 'of another state of the sources');
  expect(await compiled()).toEqual(['server']);
  await rm(join(folder, 'dist/web'), { recursive: true });
  expect(await compiled()).toEqual(['pages']);
  await rm(join(folder, 'src/web/api'), { recursive: true });
  expect(await compiled()).toEqual(['client']);
});

test('a compiler that fails ends the start with what it said, and is asked again the next time', async () => {
  await compiled();
  const good = await readFile(join(folder, 'node_modules/typescript/bin/tsc'), 'utf8');
  await write('node_modules/typescript/bin/tsc', `console.log('server.ts(1,1): error'); process.exit(2);`);
  await write('src/server.ts', 'broken');
  await expect(start()).rejects.toMatchObject({ code: 1, stderr: expect.stringContaining('server.ts(1,1): error') });
  await write('node_modules/typescript/bin/tsc', good);
  expect(await compiled()).toEqual(['server', 'client']);
});

test('a packed build, with no sources and no compiler, starts as it is and drops what no server needs', async () => {
  await compiled();
  for (const path of ['src/server.ts', 'src/web', 'node_modules/typescript', 'node_modules/vite']) {
    await rm(join(folder, path), { recursive: true });
  }
  const runtime = 'node_modules/@prisma/client/runtime';
  const needed = 'query_compiler_fast_bg.postgresql.mjs';
  for (const name of [needed, 'query_compiler_fast_bg.mysql.mjs', 'client.js']) await write(`${runtime}/${name}`, '');
  await run(process.execPath, ['src/prepare.mjs'], { cwd: folder });
  expect(await readFile(join(folder, runtime, needed), 'utf8')).toBe('');
  expect(await readFile(join(folder, runtime, 'client.js'), 'utf8')).toBe('');
  await expect(readFile(join(folder, runtime, 'query_compiler_fast_bg.mysql.mjs'))).rejects.toThrow('ENOENT');
  expect((await start('--demo')).stdout).toBe('started with --demo\n');
});
