import { v7 as uuidV7 } from 'uuid';
import { applyClearanceEvent } from '../domain/clearance.ts';
import type { Tx } from '../platform/db.ts';
import { type EntryHead, HISTORY_CHANNEL, type HistoryEntry, readyEntryRow } from './history.ts';

/** What happened to one of many locked entries. */
export interface Happening {
  entry: EntryHead;
  what: HistoryEntry;
}

/**
 * As `recordEvent` for many, in the order given, in one statement: the locks are held for one round trip and not for one
 * per row. An entry may come several times; each is brought up to date.
 */
export async function recordEvents(tx: Tx, happenings: readonly Happening[]): Promise<void> {
  if (happenings.length === 0) return;
  const rows = happenings.map(append);
  const entries = [...new Set(happenings.map(({ entry }) => entry))];
  const heads = entries.map((entry) => ({
    entry_id: entry.entryId,
    facts: entry.facts,
    history_seq: entry.historySeq,
    history_hash: entry.historyHash,
  }));
  await tx.$executeRaw`
    WITH appended AS (
      INSERT INTO history (id, entry_id, seq, action, actor_id, actor_role, actor_name, at, data, request_id, prev_hash, hash,
                           event_id)
      SELECT r.id, r.entry_id, r.seq, r.action, r.actor_id, r.actor_role, r.actor_name, r.at, r.data, r.request_id,
             r.prev_hash, r.hash, r.event_id
      FROM jsonb_to_recordset(${JSON.stringify(rows)}::jsonb) AS r (id uuid, entry_id uuid, seq int, action text,
        actor_id uuid, actor_role text, actor_name text, at timestamptz, data jsonb, request_id text, prev_hash text,
        hash text, event_id uuid)
    ), folded AS (
      UPDATE clearances c
      SET facts = h.facts, rev = c.rev + 1, updated_at = now(), history_seq = h.history_seq, history_hash = h.history_hash
      FROM jsonb_to_recordset(${JSON.stringify(heads)}::jsonb)
        AS h (entry_id uuid, facts jsonb, history_seq int, history_hash text)
      WHERE c.entry_id = h.entry_id
      RETURNING c.event_id
    )
    SELECT pg_notify(${HISTORY_CHANNEL}, event_id::text) FROM (SELECT DISTINCT event_id FROM folded) AS told`;
}

function append({ entry, what }: Happening) {
  const { row, hash } = readyEntryRow(entry, what);
  if (what.event !== undefined) entry.facts = applyClearanceEvent(entry.facts, what.event);
  entry.historySeq = row.seq;
  entry.historyHash = hash;
  return {
    id: uuidV7(),
    entry_id: entry.entryId,
    seq: row.seq,
    action: row.action,
    actor_id: row.actorId,
    actor_role: row.actorRole,
    actor_name: what.actor.name,
    at: row.at,
    data: row.data,
    request_id: what.requestId ?? null,
    prev_hash: row.prevHash,
    hash,
    event_id: entry.eventId,
  };
}
