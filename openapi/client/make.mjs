import { execFileSync } from 'node:child_process';
import { cpSync, mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'vite';
import { buildWhatChanged } from '../../src/build.mjs';

// `npm run client:pack`: the client for other programs, as dist/client and dist/gridworthy-client-<version>.tgz.
const here = dirname(fileURLToPath(import.meta.url));
const root = dirname(dirname(here));
const folder = join(root, 'dist', 'client');
const TYPES = ['client', 'call', 'operation', 'operations'];

buildWhatChanged((text) => process.stderr.write(`${text}\n`));
rmSync(folder, { recursive: true, force: true });
mkdirSync(folder, { recursive: true });
const lib = { entry: join(root, 'src/web/api/client.ts'), formats: ['es'], fileName: () => 'index.js' };
await build({
  configFile: false,
  root,
  logLevel: 'warn',
  publicDir: false,
  build: { outDir: folder, emptyOutDir: false, target: 'es2022', minify: false, lib },
});
writeTypes();
for (const name of ['README.md', 'example.mjs']) cpSync(join(here, name), join(folder, name));
const { version, license, engines } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'));
const manifest = {
  name: 'gridworthy-client',
  version,
  description: 'Typed client of the API of a Gridworthy server. Uses fetch and needs no other package.',
  license,
  type: 'module',
  engines,
  exports: { '.': { types: './types/client.d.ts', default: './index.js' } },
  files: ['index.js', 'types', 'README.md', 'example.mjs'],
};
writeFileSync(join(folder, 'package.json'), `${JSON.stringify(manifest, null, 2)}\n`);
const pack = ['pack', '--ignore-scripts', '--loglevel=error', '--pack-destination', join(root, 'dist')];
const packed = execFileSync('npm', pack, { cwd: folder, encoding: 'utf8' }).trim();
process.stdout.write(`dist/${packed.split('\n').at(-1)}\n`);

/** Of each file its declarations, side by side. */
function writeTypes() {
  const made = join(root, 'dist', 'client-types');
  const program = join(root, 'node_modules/typescript/bin/tsc');
  const options = ['--noEmit', 'false', '--emitDeclarationOnly', '--declaration', '--rootDir', 'src', '--outDir', made];
  execFileSync(process.execPath, [program, '-p', 'src/web/tsconfig.json', ...options], { cwd: root, stdio: 'inherit' });
  mkdirSync(join(folder, 'types'));
  for (const name of TYPES) {
    const text = readFileSync(join(made, 'web/api', `${name}.d.ts`), 'utf8');
    const flat = text.replaceAll(/(from ')[^']*\/(\w+)\.ts(')/g, '$1./$2.js$3');
    writeFileSync(join(folder, 'types', `${name}.d.ts`), flat);
  }
  rmSync(made, { recursive: true });
}
