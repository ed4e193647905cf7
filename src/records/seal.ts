import type pg from 'pg';
import { v7 as uuidV7 } from 'uuid';
import { mayTell } from '../domain/webhook-messages.ts';
import { appendLeaf, EMPTY_TREE, type Frontier, type Hash, leafHash, rootOf } from '../platform/merkle-tree.ts';
import { OUTBOX_CHANNEL } from '../platform/outbox.ts';
import { WEBHOOK_FAN_OUT } from './webhook-cause.ts';

/** The channel on which sealed rows announce themselves; the payload is the id of their event. */
export const SEALED_CHANNEL = 'gridworthy_sealed';

/** Rows that are sealed in one transaction. */
const BATCH = 500;
/** First key of the advisory locks of the sealing; the second is a hash of the event's id. */
const LOCK = 1_397_047_660;

interface UnsealedRow {
  historyId: string;
  hash: string;
  action: string;
  hasEvent: boolean;
  requestId: string | null;
}

/** Events with rows that wait to be sealed. */
export async function listUnsealedEvents(pool: pg.Pool): Promise<string[]> {
  const { rows } = await pool.query<{ eventId: string }>({
    name: 'seal-events',
    text: 'SELECT DISTINCT event_id AS "eventId" FROM unsealed_history',
  });
  return rows.map(({ eventId }) => eventId);
}

/** The bytes of a row's leaf are the row's own hash, which covers its content and the row before it. */
export const leafOf = (rowHash: string): Hash => leafHash(Buffer.from(rowHash, 'hex'));

/**
 * Makes leaves of the committed rows of an event that wait for it, some hundred in one transaction, and orders the
 * webhook messages that they cause. One at a time per event: where another is at it, nothing is done.
 *
 * @returns whether there may be more
 */
export async function sealBatch(pool: pg.Pool, eventId: string): Promise<boolean> {
  const client = await pool.connect();
  let broken: Error | undefined;
  try {
    await client.query('BEGIN');
    const count = (await takeEvent(client, eventId)) ? await seal(client, eventId) : 0;
    await client.query('COMMIT');
    return count === BATCH;
  } catch (error) {
    broken = error instanceof Error ? error : new Error(String(error));
    throw error;
  } finally {
    // A connection that failed in a transaction is thrown away; the database rolls back.
    client.release(broken);
  }
}

async function takeEvent(client: pg.PoolClient, eventId: string): Promise<boolean> {
  const { rows } = await client.query<{ taken: boolean }>({
    name: 'seal-take',
    text: 'SELECT pg_try_advisory_xact_lock($1, hashtext($2)) AS taken',
    values: [LOCK, eventId],
  });
  return rows[0]?.taken === true;
}

async function seal(client: pg.PoolClient, eventId: string): Promise<number> {
  const rows = await listUnsealed(client, eventId);
  if (rows.length === 0) return 0;
  const tree = await findTree(client, eventId);
  const leaves = rows.map(({ hash }) => leafOf(hash));
  const grown = leaves.reduce(appendLeaf, tree);
  const told = rows.filter(({ action, hasEvent }) => mayTell(action, hasEvent));
  await client.query({
    name: 'seal-write',
    text: WRITE,
    values: [
      eventId,
      tree.size,
      rows.map(({ historyId }) => historyId),
      leaves,
      grown.size,
      grown.peaks,
      rootOf(grown),
      told.map(() => uuidV7()),
      told.map(({ historyId }) => historyId),
      told.map(({ requestId }) => requestId),
    ],
  });
  return rows.length;
}

/** After the lock: what the one before has sealed must be seen. */
async function findTree(client: pg.PoolClient, eventId: string): Promise<Frontier> {
  const { rows } = await client.query<Frontier>({
    name: 'seal-tree',
    text: 'SELECT size, frontier AS peaks FROM event_trees WHERE event_id = $1',
    values: [eventId],
  });
  return rows[0] ?? EMPTY_TREE;
}

// Whoever sees a row of a subject sees those before it, which were written under the same lock: by `seq`, each is
// before its next one, in whichever batch.
async function listUnsealed(client: pg.PoolClient, eventId: string): Promise<UnsealedRow[]> {
  const { rows } = await client.query<UnsealedRow>({
    name: 'seal-rows',
    text: `SELECT u.history_id AS "historyId", h.hash, h.action, h.data ? 'event' AS "hasEvent", h.request_id AS "requestId"
      FROM (SELECT history_id, seq FROM unsealed_history WHERE event_id = $1 ORDER BY seq, history_id LIMIT ${BATCH}) u
      JOIN history h ON h.id = u.history_id
      ORDER BY u.seq, u.history_id`,
    values: [eventId],
  });
  return rows;
}

const WRITE = `
  WITH sealed AS (
    INSERT INTO event_leaves (event_id, index, history_id, leaf_hash)
    SELECT $1::uuid, $2::int + row.place - 1, row.id, row.leaf
    FROM unnest($3::uuid[], $4::bytea[]) WITH ORDINALITY AS row (id, leaf, place)
  ), unqueued AS (
    DELETE FROM unsealed_history WHERE history_id = ANY($3::uuid[])
  ), told AS (
    INSERT INTO outbox (id, name, payload, request_id)
    SELECT job.id, '${WEBHOOK_FAN_OUT}', jsonb_build_object('historyId', job.history_id), job.request_id
    FROM unnest($8::uuid[], $9::uuid[], $10::text[]) AS job (id, history_id, request_id)
    WHERE EXISTS (SELECT 1 FROM webhooks w WHERE w.enabled AND (w.event_id IS NULL OR w.event_id = $1::uuid))
    RETURNING pg_notify('${OUTBOX_CHANNEL}', '')::text
  )
  INSERT INTO event_trees (event_id, size, frontier, root) VALUES ($1::uuid, $5, $6, $7)
  ON CONFLICT (event_id) DO UPDATE
    SET size = EXCLUDED.size, frontier = EXCLUDED.frontier, root = EXCLUDED.root, updated_at = now()
  RETURNING pg_notify('${SEALED_CHANNEL}', event_id::text)`;
