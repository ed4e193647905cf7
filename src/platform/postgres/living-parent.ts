import { execFileSync } from 'node:child_process';
import { readFileSync, readlinkSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { findPostgresIn, identify } from './process-identity.ts';

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
