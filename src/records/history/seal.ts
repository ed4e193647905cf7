import pg from 'pg';
import { v7 as uuidV7 } from 'uuid';
import type { Deps } from '../../deps.ts';
import { mayPublish } from '../../domain/history/webhook-messages.ts';
import { surviveLostConnections } from '../../platform/database/db.ts';
import { listenTo } from '../../platform/database/listen.ts';
import { atMostEvery } from '../../platform/logger.ts';
import { appendLeaf, EMPTY_TREE, type Frontier, type Hash, leafHash, rootOf } from '../../platform/merkle-tree.ts';
import { OUTBOX_CHANNEL } from '../../platform/queue/outbox.ts';
import { endsWithin, openBreather, pause } from '../../platform/clock.ts';
import { HISTORY_CHANNEL } from './history.ts';
import { signHeads } from './signing.ts';

/** Name of the job that turns a history row into deliveries; its payload is `{ historyId }`. */
export const WEBHOOK_FAN_OUT = 'webhook.fan-out';

/** How often to look for rows that nobody announced. */
const LOOK_EVERY_MS = 1000;
/** How often heads are signed of trees that have grown. */
const SIGN_EVERY_MS = 5000;
const REPORT_EVERY_MS = 60_000;
/** A database that does not answer must not hold up the stop. */
const CLOSE_MS = 2000;

/** What wakes the sealer: events of which something was written, or null for a look at all of them. */
interface Bell {
  ring(eventId: string | null): void;
  /** waits for a ring, or for the time of the next look, and says what to look at */
  wait(): Promise<string[] | null>;
}

/**
 * Seals what is written to events, woken by the statement that wrote it and by looking every second. Any number of
 * processes may: per event one at a time works, the others go on to the next. Has a connection of its own, so that it
 * never waits behind a request; stops after what is committed by then is sealed.
 */
export function startSealer(deps: Deps): { stop(): Promise<void> } {
  const stopping = new AbortController();
  const pool = openPool(deps);
  const bell = openBell(stopping.signal);
  const listening = listenTo(deps.db.pool, {
    channel: HISTORY_CHANNEL,
    log: deps.log,
    name: 'gridworthy-seal-listen',
    heard: (eventId) => bell.ring(eventId),
    // What was committed while nobody listened.
    connected: () => bell.ring(null),
  });
  const running = run(deps, pool, { bell, stopping: stopping.signal });
  return {
    async stop() {
      stopping.abort();
      await endsWithin(CLOSE_MS, Promise.all([running, listening.stop()]));
      await endsWithin(CLOSE_MS, pool.end());
    },
  };
}

async function run(
  deps: Deps,
  pool: pg.Pool,
  { bell, stopping }: { bell: Bell; stopping: AbortSignal },
): Promise<void> {
  // Nothing is lost: rows wait until they are sealed.
  const report = atMostEvery(REPORT_EVERY_MS, (error: unknown) =>
    deps.log.warn({ error }, 'the history cannot be sealed; it is tried again'),
  );
  let signAt = 0;
  let wanted: string[] | null = null;
  for (;;) {
    // A look that began before the stop may have missed what was committed until then.
    const isLast = stopping.aborted;
    await sealEvents(pool, isLast ? null : wanted, report);
    if (isLast || performance.now() >= signAt) {
      await signHeads(deps, pool).catch(report);
      signAt = performance.now() + SIGN_EVERY_MS;
    }
    if (isLast) return;
    wanted = await bell.wait();
  }
}

/** One that fails must not keep the others from being sealed. */
async function sealEvents(pool: pg.Pool, wanted: string[] | null, report: (error: unknown) => void): Promise<void> {
  const events = wanted ?? (await listUnsealedEvents(pool).catch(failed));
  for (const eventId of events) {
    try {
      while (await sealBatch(pool, eventId));
    } catch (error) {
      report(error);
    }
  }
  function failed(error: unknown): [] {
    report(error);
    return [];
  }
}

function openBell(stopping: AbortSignal): Bell {
  const changed = new Set<string>();
  let all = false;
  let rung = new AbortController();
  let lookAt = performance.now() + LOOK_EVERY_MS;
  return {
    ring(eventId) {
      if (eventId === null) all = true;
      else changed.add(eventId);
      rung.abort();
    },
    async wait() {
      await pause(Math.max(0, lookAt - performance.now()), AbortSignal.any([rung.signal, stopping]));
      rung = new AbortController();
      const isDue = all || performance.now() >= lookAt;
      const events = [...changed];
      changed.clear();
      all = false;
      if (!isDue) return events;
      lookAt = performance.now() + LOOK_EVERY_MS;
      return null;
    },
  };
}

function openPool({ db, log }: Deps): pg.Pool {
  const { options } = db.pool as unknown as { options: pg.PoolConfig };
  const pool = new pg.Pool({ ...options, max: 1, application_name: 'gridworthy-seal' });
  surviveLostConnections(pool, (error) => log.warn({ error }, 'connection of the sealer lost'));
  return pool;
}

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
  trace: string | null;
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
  const breathe = openBreather();
  const leaves: Hash[] = [];
  let grown = tree;
  for (const { hash } of rows) {
    const leaf = leafOf(hash);
    leaves.push(leaf);
    grown = appendLeaf(grown, leaf);
    await breathe();
  }
  const published = rows.filter(({ action, hasEvent }) => mayPublish(action, hasEvent));
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
      published.map(() => uuidV7()),
      published.map(({ historyId }) => historyId),
      published.map(({ requestId }) => requestId),
      published.map(({ trace }) => trace),
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
    text: `SELECT u.history_id AS "historyId", h.hash, h.action, h.data ? 'event' AS "hasEvent", h.request_id AS "requestId", u.trace
      FROM (SELECT history_id, seq, trace FROM unsealed_history WHERE event_id = $1 ORDER BY seq, history_id LIMIT ${BATCH}) u
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
  ), published AS (
    INSERT INTO outbox (id, name, payload, request_id, trace)
    SELECT job.id, '${WEBHOOK_FAN_OUT}', jsonb_build_object('historyId', job.history_id), job.request_id, job.trace
    FROM unnest($8::uuid[], $9::uuid[], $10::text[], $11::text[]) AS job (id, history_id, request_id, trace)
    WHERE EXISTS (SELECT 1 FROM webhooks w WHERE w.enabled AND (w.event_id IS NULL OR w.event_id = $1::uuid))
    RETURNING pg_notify('${OUTBOX_CHANNEL}', '')::text
  )
  INSERT INTO event_trees (event_id, size, frontier, root) VALUES ($1::uuid, $5, $6, $7)
  ON CONFLICT (event_id) DO UPDATE
    SET size = EXCLUDED.size, frontier = EXCLUDED.frontier, root = EXCLUDED.root, updated_at = now()
  RETURNING pg_notify('${SEALED_CHANNEL}', event_id::text)`;
