import { v7 as uuidV7 } from 'uuid';
import type { Tx } from './db.ts';

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
