import { execFileSync } from 'node:child_process';
import { readdirSync, readFileSync, readlinkSync } from 'node:fs';

/** A process number together with what tells it from a later process of the same number. */
export type ProcessIdentity = { pid: number; startedAt: string };

/** The identity of a living process, or `undefined` when there is none of that number. */
export function identify(pid: number): ProcessIdentity | undefined {
  if (!Number.isSafeInteger(pid) || pid <= 0) return undefined;
  const startedAt = process.platform === 'linux' ? linuxStart(pid) : psStart(pid);
  return startedAt === undefined ? undefined : { pid, startedAt };
}

/** Whether exactly this process still lives; a later one that got its number does not count. */
export function isAlive(identity: ProcessIdentity): boolean {
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
