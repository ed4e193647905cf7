import { execFileSync } from 'node:child_process';
import { existsSync, readFileSync, readlinkSync } from 'node:fs';
import { readFile, rm } from 'node:fs/promises';
import { basename, join } from 'node:path';
import type { Logger } from '../logger.ts';
import { pause } from '../wait.ts';
import { findPostgresIn, identify } from './process-identity.ts';

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
