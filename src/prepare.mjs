import { spawnSync } from 'node:child_process';
import { existsSync, readdirSync, rmSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { buildWhatChanged, canBuild } from './build.mjs';

// After `npm ci`: with sources and a compiler, generates and builds; in a packed build, drops what no server needs.
const root = dirname(dirname(fileURLToPath(import.meta.url)));
/** In packages: what people read who write programs, tests, other builds of the same, and fonts that no sheet is printed in. */
const NEEDLESS = [
  /\.[cm]?ts$|\.map$|(?:^|\/)(?:README|CHANGELOG|HISTORY)[^/]*\.md$/i,
  /^(?:@[^/]+\/)?[^/]+\/(?:tests?|\.yarn)$/,
  /^@opentelemetry\/[^/]+\/build\/(?:esm|esnext)$/,
  /^@bufbuild\/cel-spec\/dist\/(?:cjs|esm)\/testdata$/,
  /^@e965\/xlsx\/dist\/xlsx\./,
  /^dejavu-fonts-ttf\/(?:status\.txt|ttf\/(?!DejaVuSansCondensed(?:-Bold)?\.ttf$))/,
];
const NEEDED = 'query_compiler_fast_bg.postgresql.';

if (canBuild()) {
  const { status } = spawnSync(process.execPath, ['prisma/generate.mjs'], { cwd: root, stdio: 'inherit' });
  if (status !== 0) process.exit(status ?? 1);
  buildWhatChanged((text) => process.stderr.write(`${text}\n`));
} else if (!existsSync(join(root, 'src/server.ts'))) {
  dropOtherDatabases();
  dropWhatProgramsDoNotLoad();
} else {
  process.stderr.write(
    'Sources without a compiler: install with the development packages to build, or use a packed build.\n',
  );
}

/** The query compilers of databases that are not PostgreSQL: 55 MB that nobody loads. */
function dropOtherDatabases() {
  const folder = join(root, 'node_modules/@prisma/client/runtime');
  if (!existsSync(folder)) return;
  const needless = readdirSync(folder).filter((name) => name.startsWith('query_compiler_') && !name.startsWith(NEEDED));
  for (const name of needless) rmSync(join(folder, name));
}

/** 95 MB for people who write programs, where the licences stay. */
function dropWhatProgramsDoNotLoad() {
  const folder = join(root, 'node_modules');
  if (!existsSync(folder)) return;
  for (const name of readdirSync(folder, { recursive: true, encoding: 'utf8' })) {
    if (NEEDLESS.some((one) => one.test(name))) rmSync(join(folder, name), { recursive: true, force: true });
  }
}
