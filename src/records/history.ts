import { v7 as uuidV7 } from 'uuid';
import type { Actor } from '../domain/actor.ts';
import { applyClearanceEvent, type ClearanceEvent } from '../domain/clearance.ts';
import { canonicalHash } from '../platform/canonical-json.ts';
import type { Tx } from '../platform/db.ts';
import { mayTell } from '../domain/webhook-messages.ts';
import { OUTBOX_CHANNEL } from '../platform/outbox.ts';
import type { LockedEntry } from './entry-lock.ts';
import { WEBHOOK_FAN_OUT } from './webhook-cause.ts';

/** The channel on which a committed history row announces itself; the payload is the id of its event. */
export const HISTORY_CHANNEL = 'gridworthy_history';

/** What is written into an entry's history, in the transaction of what it tells. */
export interface HistoryEntry {
  actor: Actor;
  /** instant at which it was decided */
  at: Date;
  /** `noun.verb`, for example `inspection.submitted` */
  action: string;
  /** what it means for the clearance; absent: nothing */
  event?: ClearanceEvent;
  /** ids and facts; no names, addresses or telephone numbers */
  data?: Readonly<Record<string, unknown>>;
  requestId: string | undefined;
}

/** The part of a history row that its hash covers, in the form in which it is hashed. */
export interface ChainedRow {
  entryId: string;
  seq: number;
  action: string;
  actorId: string;
  actorRole: string;
  at: string;
  data: unknown;
  prevHash: string;
}

/** SHA-256 over the row and the hash before it: a changed, missing or moved row breaks the chain from there on. */
export function chainHash(row: ChainedRow): string {
  return canonicalHash(row);
}

/**
 * Appends to the history of a locked entry and folds the event into what the gate answers from. `entry` is brought up
 * to date, so several can follow in one transaction. The person's name stands beside the row but not in its hash, so
 * that it can be erased later without breaking the chain. The row is also the next link of its event's chain: the head
 * stays locked until the commit, so writes to one event end one after the other. Where a webhook listens, the job that
 * makes its messages is ordered by the same statement.
 */
export async function recordEvent(tx: Tx, entry: LockedEntry, what: HistoryEntry): Promise<void> {
  const data = { ...what.data, ...(what.event === undefined ? {} : { event: what.event }) };
  const row: ChainedRow = {
    entryId: entry.entryId,
    seq: entry.historySeq + 1,
    action: what.action,
    actorId: what.actor.tokenId,
    actorRole: what.actor.role,
    at: what.at.toISOString(),
    data: JSON.parse(JSON.stringify(data)),
    prevHash: entry.historyHash,
  };
  const hash = chainHash(row);
  const facts = what.event === undefined ? entry.facts : applyClearanceEvent(entry.facts, what.event);
  await tx.$executeRaw`
    WITH link AS (
      INSERT INTO event_chains AS c (event_id, seq, hash, updated_at)
      VALUES (${entry.eventId}::uuid, 1, event_link('', 1, ${hash}), now())
      ON CONFLICT (event_id) DO UPDATE
        SET seq = c.seq + 1, hash = event_link(c.hash, c.seq + 1, ${hash}), updated_at = now()
      RETURNING c.seq, c.hash
    ), appended AS (
      INSERT INTO history (id, entry_id, seq, action, actor_id, actor_role, actor_name, at, data, request_id, prev_hash, hash,
                           event_id, event_seq, event_hash)
      SELECT ${uuidV7()}::uuid, ${row.entryId}::uuid, ${row.seq}, ${row.action}, ${row.actorId}::uuid, ${row.actorRole},
             ${what.actor.name}, ${what.at}, ${JSON.stringify(row.data)}::jsonb, ${what.requestId ?? null},
             ${row.prevHash}, ${hash}, ${entry.eventId}::uuid, link.seq, link.hash
      FROM link
      RETURNING id, event_id
    ), told AS (
      INSERT INTO outbox (id, name, payload, request_id)
      SELECT ${uuidV7()}::uuid, ${WEBHOOK_FAN_OUT}, jsonb_build_object('historyId', id), ${what.requestId ?? null}
      FROM appended
      WHERE ${mayTell(what.action, what.event)} AND EXISTS (SELECT 1 FROM webhooks w
        WHERE w.enabled AND (w.event_id IS NULL OR w.event_id = appended.event_id))
      RETURNING pg_notify(${OUTBOX_CHANNEL}, '')::text
    )
    UPDATE clearances
    SET facts = ${JSON.stringify(facts)}::jsonb, rev = rev + 1, updated_at = now(), history_seq = ${row.seq},
        history_hash = ${hash}
    WHERE entry_id = ${row.entryId}::uuid
    RETURNING pg_notify(${HISTORY_CHANNEL}, event_id::text)`;
  entry.facts = facts;
  entry.historySeq = row.seq;
  entry.historyHash = hash;
}

/** Whether the rows, in order, form one unbroken chain that ends at `head`. Names the first row that does not. */
export function verifyChain(
  rows: readonly (ChainedRow & { hash: string })[],
  head: { seq: number; hash: string },
): { intact: boolean; brokenAt?: number } {
  let prevHash = '';
  for (const [index, { hash, ...row }] of rows.entries()) {
    if (row.seq !== index + 1 || row.prevHash !== prevHash || chainHash(row) !== hash) {
      return { intact: false, brokenAt: index + 1 };
    }
    prevHash = hash;
  }
  return rows.length === head.seq && prevHash === head.hash
    ? { intact: true }
    : { intact: false, brokenAt: rows.length + 1 };
}

/** Whether the history of a locked entry holds an action with these facts: makes a job that runs twice write once. */
export async function hasHappened(
  tx: Tx,
  entryId: string,
  action: string,
  facts: Readonly<Record<string, string>>,
): Promise<boolean> {
  const rows = await tx.$queryRaw<{ found: boolean }[]>`
    SELECT EXISTS (SELECT 1 FROM history WHERE entry_id = ${entryId}::uuid AND action = ${action}
      AND data @> ${JSON.stringify(facts)}::jsonb) AS found`;
  return rows[0]?.found === true;
}
