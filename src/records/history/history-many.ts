import type { Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import type { LockedCar } from '../locks/entry-lock.ts';
import { appendToEntry, type EntryHead, HISTORY_CHANNEL, type HistoryEntry, type HistoryRow } from './history.ts';

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
  const rows = happenings.map(({ entry, what }) => appendToEntry(entry, what));
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

/** History rows as a part of one write. `historyNotify` goes into its result. */
export function historyPart(rows: readonly HistoryRow[]): Prisma.Sql {
  return Prisma.sql`
    INSERT INTO history (id, entry_id, car_id, seq, action, actor_id, actor_role, actor_name, at, data, request_id,
                         prev_hash, hash, event_id)
    SELECT r.id, r.entry_id, r.car_id, r.seq, r.action, r.actor_id, r.actor_role, r.actor_name, r.at, r.data,
           r.request_id, r.prev_hash, r.hash, r.event_id
    FROM jsonb_to_recordset(${JSON.stringify(rows)}::jsonb) AS r (id uuid, entry_id uuid, car_id uuid, seq int,
      action text, actor_id uuid, actor_role text, actor_name text, at timestamptz, data jsonb, request_id text,
      prev_hash text, hash text, event_id uuid)`;
}

/** What a locked entry has come to, as a part of one write: once for all rows that were appended to it. */
export function entryHeadPart({ entryId, facts, historySeq, historyHash }: EntryHead): Prisma.Sql {
  return Prisma.sql`
    UPDATE clearances SET facts = ${JSON.stringify(facts)}::jsonb, rev = rev + 1, updated_at = now(),
      history_seq = ${historySeq}, history_hash = ${historyHash}
    WHERE entry_id = ${entryId}::uuid`;
}

/** The same for a car that is locked for a change. */
export function carHeadPart({ carId, facts, historySeq, historyHash }: LockedCar): Prisma.Sql {
  return Prisma.sql`
    UPDATE car_clearances SET facts = ${JSON.stringify(facts)}::jsonb, rev = rev + 1, updated_at = now(),
      history_seq = ${historySeq}, history_hash = ${historyHash}
    WHERE id = ${carId}::uuid`;
}

/** Announces the rows to the sealer at commit. */
export const historyNotify = (eventId: string): Prisma.Sql => Prisma.sql`pg_notify(${HISTORY_CHANNEL}, ${eventId})`;
