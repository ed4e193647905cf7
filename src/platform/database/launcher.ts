import { type ChildProcess, execFile, execFileSync, spawn } from 'node:child_process';
import { chown, stat } from 'node:fs/promises';
import { promisify } from 'node:util';
import type { Binaries } from './binaries.ts';

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
