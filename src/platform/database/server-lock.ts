import { link, readFile, rename, rm, writeFile } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { execFileSync } from 'node:child_process';
import { existsSync, readdirSync, readFileSync, readlinkSync } from 'node:fs';
import { pause } from '../clock.ts';
import { CannotStart } from '../process-life.ts';
import type { Logger } from '../logger.ts';

/** A process number together with what tells it from a later process of the same number. */
type ProcessIdentity = { pid: number; startedAt: string };

/** The identity of a living process, or `undefined` when there is none of that number. */
function identify(pid: number): ProcessIdentity | undefined {
  if (!Number.isSafeInteger(pid) || pid <= 0) return undefined;
  const startedAt = process.platform === 'linux' ? linuxStart(pid) : psStart(pid);
  return startedAt === undefined ? undefined : { pid, startedAt };
}

/** Whether exactly this process still lives; a later one that got its number does not count. */
function isAlive(identity: ProcessIdentity): boolean {
  return identify(identity.pid)?.startedAt === identity.startedAt;
}

/**
 * The processes of a PostgreSQL server on a data folder, postmaster and backends: they all stand in that folder.
 * Empty where the system has no `/proc`.
 *
 * @param folder absolute path without symbolic links
 */
export function findPostgresIn(folder: string): number[] {
  if (process.platform !== 'linux') return [];
  return readdirSync('/proc')
    .filter((name) => /^\d+$/.test(name))
    .map(Number)
    .filter((pid) => isPostgresIn(pid, folder));
}

function isPostgresIn(pid: number, folder: string): boolean {
  try {
    return (
      readlinkSync(`/proc/${pid}/cwd`) === folder && readFileSync(`/proc/${pid}/comm`, 'utf8').trim() === 'postgres'
    );
  } catch {
    // Gone meanwhile, or of another user who cannot be running our data folder.
    return false;
  }
}

// Ticks since boot are only unique together with the boot.
function linuxStart(pid: number): string | undefined {
  try {
    const fields = readFileSync(`/proc/${pid}/stat`, 'utf8')
      .replace(/^.*\) /s, '')
      .split(' ');
    // A zombie has ended; only its parent has not noticed.
    if (fields[0] === 'Z') return undefined;
    const boot = readFileSync('/proc/sys/kernel/random/boot_id', 'utf8').trim();
    return `${boot}/${fields[19]}`;
  } catch {
    return undefined;
  }
}

function psStart(pid: number): string | undefined {
  try {
    const text = execFileSync('ps', ['-o', 'lstart=', '-p', String(pid)], { encoding: 'utf8' }).trim();
    return text === '' ? undefined : text;
  } catch {
    return undefined;
  }
}

/** Thrown when another living process works on the same folder. */
export class FolderInUseError extends CannotStart {
  constructor(folder: string, pid: number) {
    super(
      `${folder} is in use by another server (process ${pid}). Stop it, or give this one its own DATA_DIR, ` +
        'or run PostgreSQL on its own and set DATABASE_URL for both.',
    );
    this.name = 'FolderInUseError';
  }
}

const TRIES = 50;

/**
 * Takes the folder for this process: `server.lock` names its holder. A lock whose holder is gone, or whose process number
 * now belongs to another process, is taken over.
 *
 * @returns a function that gives the folder back
 * @throws FolderInUseError when a living process holds it
 */
export async function lockFolder(folder: string): Promise<() => Promise<void>> {
  const path = join(folder, 'server.lock');
  const me = identify(process.pid);
  if (me === undefined) throw new Error('cannot read the identity of this process');
  const draft = `${path}.${process.pid}`;
  await writeFile(draft, JSON.stringify(me), { mode: 0o644 });
  try {
    for (let attempt = 0; attempt < TRIES; attempt += 1) {
      if (await takeFree(draft, path)) return () => release(path, me);
      await refuseIfHeld(folder, path);
      if (await takeOver(draft, path, folder)) return () => release(path, me);
      await pause(20);
    }
    throw new Error(`Cannot take ${path}; remove it and ${path}.takeover if no server runs`);
  } finally {
    await rm(draft, { force: true });
  }
}

// A link to a finished file appears at once with its content, and only if nothing stands there.
async function takeFree(draft: string, path: string): Promise<boolean> {
  return link(draft, path).then(
    () => true,
    (error: NodeJS.ErrnoException) => {
      if (error.code === 'EEXIST') return false;
      throw error;
    },
  );
}

// Only who holds the takeover mark may replace a stale lock, so that of two starters one sees the other's new lock.
async function takeOver(draft: string, path: string, folder: string): Promise<boolean> {
  const mark = `${path}.takeover`;
  if (!(await takeFree(draft, mark))) {
    const marker = await readHolder(mark);
    if (marker === undefined || !isAlive(marker)) await rm(mark, { force: true });
    return false;
  }
  try {
    await refuseIfHeld(folder, path);
    const copy = `${draft}.new`;
    await writeFile(copy, await readFile(draft));
    await rename(copy, path);
    return true;
  } finally {
    await rm(mark, { force: true });
  }
}

async function refuseIfHeld(folder: string, path: string): Promise<void> {
  const holder = await readHolder(path);
  if (holder !== undefined && isAlive(holder)) throw new FolderInUseError(folder, holder.pid);
}

async function release(path: string, me: ProcessIdentity): Promise<void> {
  const holder = await readHolder(path);
  if (holder?.pid === me.pid && holder.startedAt === me.startedAt) await rm(path, { force: true });
}

async function readHolder(path: string): Promise<ProcessIdentity | undefined> {
  try {
    const { pid, startedAt } = JSON.parse(await readFile(path, 'utf8')) as Partial<ProcessIdentity>;
    return typeof pid === 'number' && typeof startedAt === 'string' ? { pid, startedAt } : undefined;
  } catch {
    // Missing or damaged: nobody who lives can be named by it.
    return undefined;
  }
}

/** Signals from polite to final: fast shutdown, immediate shutdown (recovers at the next start), no choice. */
const STEPS = [
  { signal: 'SIGINT', waitMs: 10_000 },
  { signal: 'SIGQUIT', waitMs: 5000 },
  { signal: 'SIGKILL', waitMs: 5000 },
] as const;

/**
 * Clears what a server that was killed left behind on a data folder: a PostgreSQL that still runs is stopped, and a
 * `postmaster.pid` that names a process which is not that PostgreSQL is removed (PostgreSQL itself would take any
 * living process of that number for its own). Call only while holding the folder's lock.
 *
 * @param folder data folder, absolute, without symbolic links
 * @throws Error when processes on the folder do not end
 */
export async function clearLeftovers(folder: string, log: Logger): Promise<void> {
  const left = findPostgresIn(folder);
  if (left.length > 0) {
    log.warn({ processes: left.length }, 'stopping a database left behind by a server that was killed');
    await stopLeftovers(folder);
  }
  const pidFile = join(folder, 'postmaster.pid');
  const pid = Number((await readFile(pidFile, 'utf8').catch(() => '')).split('\n')[0]);
  if (!existsSync(pidFile) || findPostgresIn(folder).includes(pid)) return;
  if (process.platform === 'linux' || identify(pid) === undefined) await rm(pidFile, { force: true });
}

async function stopLeftovers(folder: string): Promise<void> {
  for (const { signal, waitMs } of STEPS) {
    for (const pid of await targets(folder, signal)) signalQuietly(pid, signal);
    if (await emptyWithin(folder, waitMs)) return;
  }
  throw new Error(`Processes ${findPostgresIn(folder).join(', ')} still work on ${folder} and cannot be stopped`);
}

// The polite signals go to the postmaster, which tells its backends; without one, and at the end, to each.
async function targets(folder: string, signal: NodeJS.Signals): Promise<number[]> {
  const all = findPostgresIn(folder);
  const text = await readFile(join(folder, 'postmaster.pid'), 'utf8').catch(() => '');
  const postmaster = Number(text.split('\n')[0]);
  return signal !== 'SIGKILL' && all.includes(postmaster) ? [postmaster] : all;
}

async function emptyWithin(folder: string, waitMs: number): Promise<boolean> {
  const deadline = performance.now() + waitMs;
  while (performance.now() < deadline) {
    if (findPostgresIn(folder).length === 0) return true;
    await pause(20);
  }
  return false;
}

function signalQuietly(pid: number, signal: NodeJS.Signals): void {
  try {
    process.kill(pid, signal);
  } catch {
    // It ended by itself in between.
  }
}

/**
 * The living server whose database runs on a data folder, by its process number; undefined where the database runs for
 * nobody or not at all. A database whose server was killed gets another parent, process 1 or whatever adopts orphans
 * there: so a parent counts only when it runs the same program as this process, Node.js.
 *
 * @param folder data folder, absolute, without symbolic links
 */
export async function findLivingServer(folder: string): Promise<number | undefined> {
  const running = await databasesOn(folder);
  return running
    .map(parentOf)
    .find((parent) => parent > 1 && parent !== process.pid && !running.includes(parent) && isServer(parent));
}

async function databasesOn(folder: string): Promise<number[]> {
  // Whoever stands in the folder works on it, whatever the file says; where that cannot be seen the file is all there is.
  if (process.platform === 'linux') return findPostgresIn(folder);
  const text = await readFile(join(folder, 'postmaster.pid'), 'utf8').catch(() => '');
  const pid = Number(text.split('\n')[0]);
  return pid > 0 && basename(ps(pid, 'comm=')) === 'postgres' ? [pid] : [];
}

function parentOf(pid: number): number {
  if (process.platform !== 'linux') return Number(ps(pid, 'ppid='));
  try {
    return Number(
      readFileSync(`/proc/${pid}/stat`, 'utf8')
        .replace(/^.*\) /s, '')
        .split(' ')[1],
    );
  } catch {
    // It ended in between.
    return 0;
  }
}

function isServer(pid: number): boolean {
  return identify(pid) !== undefined && programOf(pid) === basename(process.execPath);
}

function programOf(pid: number): string {
  if (process.platform !== 'linux') return basename(ps(pid, 'comm='));
  try {
    // A program that was replaced on disk while it runs has a note behind its path.
    return basename(readlinkSync(`/proc/${pid}/exe`).replace(/ \(deleted\)$/, ''));
  } catch {
    return '';
  }
}

function ps(pid: number, field: string): string {
  try {
    return execFileSync('ps', ['-o', field, '-p', String(pid)], { encoding: 'utf8' }).trim();
  } catch {
    return '';
  }
}
