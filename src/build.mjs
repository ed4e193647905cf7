import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';

// Compiles what changed since the last time, and nothing else. Plain JavaScript: it runs before anything is compiled.
const root = dirname(dirname(fileURLToPath(import.meta.url)));
const STAMPS = join(root, 'dist', '.built.json');
const SOURCE = /\.(ts|tsx|json|css|html|svg|png|webmanifest)$/;

/** What is built from what. `proof` changes whenever somebody else compiles into the same place. */
const PARTS = [
  {
    name: 'server',
    proof: 'dist/.tsbuildinfo',
    output: 'dist/src/server.js',
    inputs: serverFiles,
    program: () => [join(packageFolder('typescript'), 'bin/tsc'), '-p', 'src/tsconfig.build.json'],
  },
  {
    // What the pages call the API with: made from what the routes of the compiled server say.
    name: 'client of the pages',
    proof: 'src/web/api/operations.ts',
    output: 'src/web/api/operations.ts',
    inputs: serverFiles,
    program: () => ['dist/openapi/generate.js', '--client'],
  },
  {
    name: 'pages',
    proof: 'dist/web/office/index.html',
    output: 'dist/web/office/index.html',
    inputs: () => [...filesIn('src/web'), ...filesIn('src/domain')],
    program: () => [
      join(packageFolder('vite'), 'bin/vite.js'),
      'build',
      '--config',
      'src/web/vite.config.ts',
      '--logLevel',
      'warn',
    ],
  },
];

function serverFiles() {
  return [...filesIn('src', 'src/web'), ...filesIn('openapi'), ...filesIn('seed'), ...filesIn('prisma')];
}

/** Whether sources and compiler are here; a packed build has neither and needs none. */
export function canBuild() {
  return (
    existsSync(join(root, 'src/server.ts')) && ['typescript', 'vite'].every((name) => packageFolder(name) !== undefined)
  );
}

/** Builds what changed, and says so with `say` before it takes long. @throws Error when a compiler fails */
export function buildWhatChanged(say) {
  const stamps = readStamps();
  for (const part of PARTS) {
    const files = fingerprint(inputsOf(part), statOf);
    const before = stamps[part.name];
    if (before !== undefined && existsSync(join(root, part.output)) && before.proof === proofOf(part)) {
      if (before.files === files) continue;
      // Touched and not changed, as after a checkout back and forth: only the stamp is old.
      if (before.content === contentOf(part)) {
        writeStamps({ ...readStamps(), [part.name]: { ...before, files } });
        continue;
      }
    }
    say(`Compiling the ${part.name} …`);
    run(part);
    writeStamps({ ...readStamps(), [part.name]: { files, content: contentOf(part), proof: proofOf(part) } });
  }
}

function run(part) {
  const { status, stdout, stderr } = spawnSync(process.execPath, part.program(), { cwd: root, encoding: 'utf8' });
  if (status !== 0) throw new Error(`The ${part.name} could not be compiled:\n${stdout}${stderr}`);
}

const inputsOf = (part) => [...part.inputs(), 'tsconfig.json', 'package-lock.json'];
const contentOf = (part) => fingerprint(inputsOf(part), (path) => readFileSync(join(root, path)));
const proofOf = (part) => (existsSync(join(root, part.proof)) ? statOf(part.proof) : '');

function fingerprint(paths, of) {
  const hash = createHash('sha256');
  for (const path of paths) hash.update(`${path}\0`).update(of(path)).update('\0');
  return hash.digest('hex');
}

function statOf(path) {
  const { size, mtimeMs } = statSync(join(root, path));
  return `${size} ${mtimeMs}`;
}

function filesIn(folder, except) {
  return readdirSync(join(root, folder), { recursive: true, withFileTypes: true })
    .filter((one) => one.isFile() && SOURCE.test(one.name))
    .map((one) => relative(root, join(one.parentPath, one.name)))
    .filter((path) => except === undefined || !path.startsWith(`${except}/`))
    .toSorted();
}

function packageFolder(name) {
  try {
    return dirname(createRequire(import.meta.url).resolve(`${name}/package.json`));
  } catch {
    return undefined;
  }
}

function readStamps() {
  try {
    return JSON.parse(readFileSync(STAMPS, 'utf8'));
  } catch {
    // The first time, or cut off while it was written: everything is built.
    return {};
  }
}

function writeStamps(stamps) {
  mkdirSync(dirname(STAMPS), { recursive: true });
  writeFileSync(STAMPS, JSON.stringify(stamps));
}
