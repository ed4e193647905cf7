import type { Pool } from '../../platform/database/db.ts';

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
