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

/** What waits between a request and the job that it ordered. */
export interface Backlog {
  /** rows that the queue has not taken yet */
  waiting: number;
  /** of these, rows that it failed to take at least once */
  failing: number;
  oldestWaitingSeconds: number;
  /** rows whose job is due, was taken by the queue and has not ended: it waits or runs */
  unfinished: number;
  oldestUnfinishedSeconds: number;
  /** rows whose job failed for good; kept for 30 days */
  failed: number;
}

// All kinds are few, and each has a partial index.
const BACKLOG = {
  name: 'metrics-backlog',
  text: `SELECT w.*, u.*, f.* FROM (
      SELECT count(*)::int AS waiting, count(*) FILTER (WHERE attempts > 0)::int AS failing,
             COALESCE(extract(epoch FROM now() - min(created_at)), 0)::float8 AS "oldestWaitingSeconds"
      FROM outbox WHERE published_at IS NULL
    ) w, (
      SELECT count(*)::int AS unfinished,
             COALESCE(extract(epoch FROM now() - min(greatest(published_at, run_at))), 0)::float8 AS "oldestUnfinishedSeconds"
      FROM outbox WHERE done_at IS NULL AND failed_at IS NULL AND published_at IS NOT NULL
        AND (run_at IS NULL OR run_at <= now())
    ) u, (SELECT count(*)::int AS failed FROM outbox WHERE failed_at IS NOT NULL) f`,
};

/** Counts the outbox; ages are in seconds on the database's clock, 0 when there is no such row. */
export async function readBacklog(pool: Pool): Promise<Backlog> {
  const { rows } = await pool.query<Backlog>(BACKLOG);
  // An aggregate without GROUP BY always has its row.
  return rows[0] as Backlog;
}

/** How good the newest backup is that was finished. */
export interface LastBackup {
  ageSeconds: number;
  bytes: number;
  /** 1 when it was brought back into a scratch database, 0.5 when it was only read to its end, 0 when it could not be */
  good: number;
  /** tries since then that ended without one */
  failedSince: number;
}

const LAST_BACKUP = {
  name: 'metrics-last-backup',
  text: `SELECT extract(epoch FROM now() - b.started_at)::float8 AS "ageSeconds", b.bytes::float8 AS bytes,
      (CASE WHEN b.error IS NOT NULL THEN 0 WHEN b.verified = 'restored' THEN 1 WHEN b.verified = 'read' THEN 0.5 ELSE 0 END)::float8
        AS good,
      (SELECT count(*)::int FROM backups f WHERE f.finished_at IS NULL AND f.error IS NOT NULL AND f.started_at > b.started_at)
        AS "failedSince"
    FROM backups b WHERE b.finished_at IS NOT NULL ORDER BY b.started_at DESC LIMIT 1`,
};

/** Undefined when none was ever finished. */
export async function findLastBackup(pool: Pool): Promise<LastBackup | undefined> {
  const { rows } = await pool.query<LastBackup>(LAST_BACKUP);
  return rows[0];
}
