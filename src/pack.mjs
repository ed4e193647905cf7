import { execFileSync } from 'node:child_process';
import { cpSync, mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { buildWhatChanged } from './build.mjs';

// `npm run pack`: a build that is installed without compilers, as dist/gridworthy-<version>.tgz.
const root = dirname(dirname(fileURLToPath(import.meta.url)));
const folder = join(root, 'dist', 'package');
const PARTS = [
  'dist/src',
  'dist/seed',
  'dist/openapi',
  'dist/prisma',
  'dist/web',
  'openapi',
  'prisma/migrations',
  'prisma/schema.prisma',
  'seed',
  'src/build.mjs',
  'src/deploy',
  'src/prepare.mjs',
  'src/run.mjs',
  '.env.example',
  'README.md',
];
const LEFT_OUT = /\.ts$|\/openapi\/client(\/|$)|\/screenshots(\/|$)|\/decisions\.md$/;
const SCRIPTS = [
  'prepare',
  'start',
  'start:api',
  'start:worker',
  'demo',
  'audit:verify',
  'backup',
  'backup:drill',
  'restore',
  'token',
];

buildWhatChanged((text) => process.stderr.write(`${text}\n`));
rmSync(folder, { recursive: true, force: true });
for (const part of PARTS)
  cpSync(join(root, part), join(folder, part), { recursive: true, filter: (path) => !LEFT_OUT.test(path) });
const { devDependencies: _, scripts, ...manifest } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'));
const kept = Object.fromEntries(
  SCRIPTS.filter((name) => scripts[name] !== undefined).map((name) => [name, scripts[name]]),
);
writeJson('package.json', { ...manifest, scripts: kept });
// Without the development packages the lock shrinks to what a server needs; npm packs a lock only under this name.
cpSync(join(root, 'package-lock.json'), join(folder, 'package-lock.json'));
cpSync(join(root, '.npmrc'), join(folder, '.npmrc'));
npm('install', '--package-lock-only', '--ignore-scripts', '--loglevel=error');
renameSync(join(folder, 'package-lock.json'), join(folder, 'npm-shrinkwrap.json'));
mkdirSync(join(root, 'dist'), { recursive: true });
const packed = npm('pack', '--ignore-scripts', '--loglevel=error', '--pack-destination', join(root, 'dist')).trim();
process.stdout.write(`dist/${packed.split('\n').at(-1)}\n`);

function npm(...args) {
  return execFileSync('npm', args, { cwd: folder, encoding: 'utf8', stdio: ['ignore', 'pipe', 'inherit'] });
}

function writeJson(name, value) {
  writeFileSync(join(folder, name), `${JSON.stringify(value, null, 2)}\n`);
}
