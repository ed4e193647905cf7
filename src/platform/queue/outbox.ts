import { v7 as uuidV7 } from 'uuid';
import type { Pool, Tx } from '../database/db.ts';
import { deleteInBatches } from './job.ts';
import { Prisma } from '../prisma-client/client.ts';

const PREFIX = 'outbox-';
const LOST_AFTER_MINUTES = 10;
const KEPT_DAYS = 30;

/** Notes that a job's handler finished. A job that did not come from the outbox is no matter of ours. */
export async function markDone(pool: Pool, jobId: string): Promise<void> {
  if (!jobId.startsWith(PREFIX)) return;
  await pool.query('UPDATE outbox SET done_at = now(), failed_at = NULL WHERE id = $1 AND done_at IS NULL', [
    jobId.slice(PREFIX.length),
  ]);
}

/** Notes that a job failed for good, so that nobody adds it again. `reason` is kept beside it, at most 500 characters. */
export async function markFailed(pool: Pool, jobId: string, reason: string): Promise<void> {
  if (!jobId.startsWith(PREFIX)) return;
  await pool.query(
    `UPDATE outbox SET failed_at = now(), last_error = left($2, 500)
      WHERE id = $1 AND done_at IS NULL AND failed_at IS NULL`,
    [jobId.slice(PREFIX.length), reason],
  );
}

/**
 * Puts rows back for the relay whose job should have run long ago and neither finished nor failed for good: a queue that
 * lost its memory makes things late, it never loses them. While the queue still knows the job, adding it again with its
 * id does nothing. Returns how many rows were put back.
 *
 * @param afterMinutes how long a job may take before it counts as lost; 10 unless told
 */
export async function reviveLostRows(pool: Pool, afterMinutes = LOST_AFTER_MINUTES): Promise<number> {
  const result = await pool.query(
    `UPDATE outbox SET published_at = NULL
      WHERE done_at IS NULL AND failed_at IS NULL AND published_at < now() - make_interval(mins => $1)
        AND greatest(published_at, run_at) < now() - make_interval(mins => $1)`,
    [afterMinutes],
  );
  return result.rowCount ?? 0;
}

/**
 * Gives up rows that are due for over 30 days: longer than the queue remembers that they failed, so nobody else will say
 * it. Returns how many.
 */
export async function giveUpOldRows(pool: Pool): Promise<number> {
  const result = await pool.query(
    `UPDATE outbox SET failed_at = now(), last_error = coalesce(last_error, 'did not finish within ${KEPT_DAYS} days')
      WHERE done_at IS NULL AND failed_at IS NULL AND published_at IS NOT NULL
        AND greatest(created_at, run_at) < now() - interval '${KEPT_DAYS} days'`,
  );
  return result.rowCount ?? 0;
}

/** Forgets rows whose job finished, or failed for good, over 30 days ago. */
export async function purgeEndedRows(pool: Pool, signal?: AbortSignal): Promise<void> {
  for (const column of ['done_at', 'failed_at']) {
    const old = `${column} < now() - interval '${KEPT_DAYS} days'`;
    await deleteInBatches(
      pool,
      { text: `DELETE FROM outbox WHERE id IN (SELECT id FROM outbox WHERE ${old} LIMIT $1)` },
      signal,
    );
  }
}

/** The channel on which a committed outbox row announces itself. */
export const OUTBOX_CHANNEL = 'gridworthy_outbox';

export type OutboxEntry = {
  /** Name of the job, `noun.verb`. */
  name: string;
  /** Ids only; must match the job's payload schema. */
  payload: Record<string, unknown>;
  /** Earliest instant at which the job runs; absent: as soon as possible. */
  runAt?: Date | undefined;
  /** The request that causes the job. */
  requestId?: string | null | undefined;
};

/**
 * Writes a job into the outbox, in the caller's transaction: it exists if and only if the transaction commits. The
 * relay is woken at commit. Returns the row's id; the job's id in the queue is `outbox-<id>`.
 */
export async function appendOutbox(tx: Tx, entry: OutboxEntry): Promise<string> {
  const id = uuidV7();
  const payload = JSON.stringify(entry.payload);
  await tx.$executeRaw`
    WITH added AS (
      INSERT INTO outbox (id, name, payload, run_at, request_id)
      VALUES (${id}::uuid, ${entry.name}, ${payload}::jsonb, ${entry.runAt ?? null}::timestamptz, ${entry.requestId ?? null})
    )
    SELECT pg_notify(${OUTBOX_CHANNEL}, '')`;
  return id;
}

/** Jobs as a part of one write; `OUTBOX_NOTIFY` goes into its result. */
export function outboxPart(entries: readonly OutboxEntry[]): Prisma.Sql {
  const rows = entries.map(({ name, payload, runAt, requestId }) => ({
    id: uuidV7(),
    name,
    payload,
    run_at: runAt ?? null,
    request_id: requestId ?? null,
  }));
  return Prisma.sql`INSERT INTO outbox (id, name, payload, run_at, request_id)
    SELECT r.id, r.name, r.payload, r.run_at, r.request_id FROM jsonb_to_recordset(${JSON.stringify(rows)}::jsonb)
      AS r (id uuid, name text, payload jsonb, run_at timestamptz, request_id text)`;
}

/** Wakes the relay at commit. */
export const OUTBOX_NOTIFY = Prisma.sql`pg_notify(${OUTBOX_CHANNEL}, '')`;
