import type { Pool, Tx } from '../../platform/database/db.ts';
import { RELAY_NAME } from '../../platform/queue/outbox-relay.ts';

/** A job that failed for good, as the outbox keeps it for 30 days. */
interface FailedJob {
  jobId: string;
  name: string;
  orderedAt: Date;
  failedAt: Date;
  reason: string | null;
}

/** Jobs that failed for good, the newest first. */
export async function listFailedJobs(pool: Pool, take: number): Promise<FailedJob[]> {
  const { rows } = await pool.query<FailedJob>(
    `SELECT id AS "jobId", name, created_at AS "orderedAt", failed_at AS "failedAt", last_error AS reason
      FROM outbox WHERE failed_at IS NOT NULL ORDER BY failed_at DESC, id DESC LIMIT $1`,
    [take],
  );
  return rows;
}

/** Whether there is such a job, and whether it failed for good; undefined where there is none. */
export async function findJob(db: Tx, jobId: string): Promise<{ failed: boolean } | undefined> {
  const row = await db.outbox.findUnique({ where: { id: jobId }, select: { failedAt: true } });
  return row === null ? undefined : { failed: row.failedAt !== null };
}

/** Takes a failed job away and says what it was; undefined where it did not fail or somebody took it first. */
export async function takeFailedJob(tx: Tx, jobId: string) {
  const [row] = await tx.$queryRaw<{ name: string; payload: Record<string, unknown> }[]>`
    DELETE FROM outbox WHERE id = ${jobId}::uuid AND failed_at IS NOT NULL RETURNING name, payload`;
  return row;
}

/** Whether a job of this name is ordered or runs. */
export async function isJobOpen(db: Tx, name: string): Promise<boolean> {
  return (await db.outbox.count({ where: { name, doneAt: null, failedAt: null } })) > 0;
}

/**
 * Since when each process that runs jobs is connected, by the connection on which it waits for them: what is cut off is
 * gone from here at once.
 */
export async function listWorkers(pool: Pool): Promise<Date[]> {
  const { rows } = await pool.query<{ since: Date }>(
    `SELECT backend_start AS since FROM pg_stat_activity
      WHERE datname = current_database() AND application_name = $1 ORDER BY backend_start`,
    [RELAY_NAME],
  );
  return rows.map(({ since }) => since);
}

interface BackupRow {
  name: string;
  place: string;
  startedAt: Date;
  finishedAt: Date | null;
  bytes: number | null;
  encrypted: boolean;
  verified: string | null;
  error: string | null;
  removedAt: Date | null;
}

/** The newest backups that were begun, also those that came to nothing. */
export async function listBackups(pool: Pool, take: number): Promise<BackupRow[]> {
  const { rows } = await pool.query<BackupRow>(
    `SELECT name, place, started_at AS "startedAt", finished_at AS "finishedAt", bytes::float8 AS bytes, encrypted, verified,
        error, removed_at AS "removedAt" FROM backups ORDER BY started_at DESC, id DESC LIMIT $1`,
    [take],
  );
  return rows;
}
