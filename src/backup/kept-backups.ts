import type pg from 'pg';
import { v7 as uuidV7 } from 'uuid';
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { setPriority } from 'node:os';
import { fileURLToPath } from 'node:url';
import type { Written } from './write-backup.ts';
import type { BackupPlan } from '../config.ts';
import type { Database } from '../platform/database/db.ts';
import type { Logger } from '../platform/logger.ts';
import type { Chore } from '../platform/queue/job.ts';

export type Verified = 'restored' | 'read';

export interface Kept {
  id: string;
  name: string;
  place: string;
  startedAt: Date;
  bytes: number;
  sha256: string;
  encrypted: boolean;
  verified: Verified | null;
  verifiedAt: Date | null;
  error: string | null;
}

/** How long after a failure, or a run that was cut off, the next one waits. */
const RETRY_MINUTES = 15;
const LOCK = 'gridworthy-backup';

/** Runs work while nobody else anywhere does; undefined when somebody does. Ends with the connection, whatever happens. */
export async function whileAlone<T>(client: pg.Client, work: () => Promise<T>): Promise<T | undefined> {
  const { rows } = await client.query<{ mine: boolean }>(`SELECT pg_try_advisory_lock(hashtext('${LOCK}')) AS mine`);
  if (rows[0]?.mine !== true) return undefined;
  try {
    return await work();
  } finally {
    await client.query(`SELECT pg_advisory_unlock(hashtext('${LOCK}'))`);
  }
}

/** Whether one is due, by the clock of the database: the last that was made is old enough, and none was tried just now. */
export async function isDue(client: pg.ClientBase | pg.Pool, everyHours: number): Promise<boolean> {
  const { rows } = await client.query<{ due: boolean }>(
    `SELECT COALESCE(now() - max(started_at) FILTER (WHERE finished_at IS NOT NULL) >= make_interval(hours => $1), true)
        AND COALESCE(now() - max(started_at) FILTER (WHERE finished_at IS NULL) >= make_interval(mins => $2), true) AS due
      FROM backups`,
    [everyHours, RETRY_MINUTES],
  );
  return rows[0]?.due === true;
}

/** The time of the database. */
export async function readNow(client: pg.ClientBase): Promise<Date> {
  const { rows } = await client.query<{ now: Date }>('SELECT now()');
  return rows[0]?.now ?? new Date(Number.NaN);
}

/** Whether a backup has this name, one that failed or is gone too. */
export async function hasName(client: pg.ClientBase, name: string): Promise<boolean> {
  const { rowCount } = await client.query('SELECT 1 FROM backups WHERE name = $1 LIMIT 1', [name]);
  return (rowCount ?? 0) > 0;
}

export async function insertStarted(
  client: pg.ClientBase,
  row: { name: string; place: string; encrypted: boolean },
): Promise<string> {
  const id = uuidV7();
  await client.query('INSERT INTO backups (id, name, place, encrypted, started_at) VALUES ($1, $2, $3, $4, now())', [
    id,
    row.name,
    row.place,
    row.encrypted,
  ]);
  return id;
}

export async function updateFinished(
  client: pg.ClientBase,
  id: string,
  { sha256, bytes }: Pick<Written, 'sha256' | 'bytes'>,
): Promise<void> {
  await client.query('UPDATE backups SET finished_at = now(), sha256 = $2, bytes = $3 WHERE id = $1', [
    id,
    sha256,
    bytes,
  ]);
}

/** @param found how it was found, or what was wrong with it */
export async function updateVerified(
  client: pg.ClientBase,
  id: string,
  found: { verified: Verified } | { error: string },
): Promise<void> {
  const verified = 'verified' in found ? found.verified : null;
  const error = 'error' in found ? found.error : null;
  await client.query('UPDATE backups SET verified = $2, verified_at = now(), error = $3 WHERE id = $1', [
    id,
    verified,
    error,
  ]);
}

export async function updateFailed(client: pg.ClientBase, id: string, error: string): Promise<void> {
  await client.query('UPDATE backups SET error = $2 WHERE id = $1', [id, error]);
}

export async function updateRemoved(client: pg.ClientBase, id: string): Promise<void> {
  await client.query('UPDATE backups SET removed_at = now() WHERE id = $1', [id]);
}

/** Backups that were finished and not removed, the newest first. */
export async function listKept(client: pg.ClientBase, place: string): Promise<Kept[]> {
  const { rows } = await client.query<Omit<Kept, 'bytes'> & { bytes: string }>(
    `SELECT id, name, place, started_at AS "startedAt", bytes, sha256, encrypted, verified, verified_at AS "verifiedAt", error
      FROM backups WHERE finished_at IS NOT NULL AND removed_at IS NULL AND place = $1 ORDER BY started_at DESC, id DESC`,
    [place],
  );
  return rows.map((row) => ({ ...row, bytes: Number(row.bytes) }));
}

const PROGRAM = fileURLToPath(new URL('./backup-cli.js', import.meta.url));
/** Nice value: whoever is at the gate goes first. */
const NICE = 10;
const LAST_WORDS = 2000;

/**
 * The chore that makes a backup when one is due, in a process of its own: reading and packing everything would hold up
 * whoever asks this one.
 *
 * @param program the compiled command; tests have another
 */
export function keepBackups(plan: BackupPlan, { db, log }: { db: Database; log: Logger }, program = PROGRAM): Chore {
  return async (signal) => {
    if (plan.everyHours === 0 || !(await isDue(db.pool, plan.everyHours))) return;
    const { code, said, ms } = await makeBackup({ ifDue: true, signal, program });
    if (signal.aborted) return;
    if (code === 0) log.info({ ms }, 'backup made');
    // Somebody must act: what the process printed says at what.
    else log.error({ ms, code, said }, 'the backup is not what it should be');
  };
}

interface How {
  /** only when the last is old enough */
  ifDue: boolean;
  /** ends it */
  signal: AbortSignal;
  program?: string;
}

/** Makes a backup in a process of its own: how that ended (0 is well), its last words, and how long it took. */
export async function makeBackup({ ifDue, signal, program = PROGRAM }: How) {
  const startedAt = performance.now();
  const child = spawn(process.execPath, [program, ...(ifDue ? ['--if-due'] : [])], {
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let said = '';
  for (const stream of [child.stdout, child.stderr])
    stream.on('data', (chunk: Buffer) => {
      said = `${said}${chunk.toString()}`.slice(-LAST_WORDS);
    });
  const stop = () => void child.kill('SIGTERM');
  signal.addEventListener('abort', stop);
  try {
    if (child.pid !== undefined) setPriority(child.pid, NICE);
    await once(child, 'close');
    return { code: child.exitCode, said, ms: Math.round(performance.now() - startedAt) };
  } finally {
    signal.removeEventListener('abort', stop);
  }
}
