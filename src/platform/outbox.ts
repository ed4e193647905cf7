import { v7 as uuidV7 } from 'uuid';
import type { Tx } from './db.ts';
import { Prisma } from './prisma-client/client.ts';

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
