import { WET_SWITCHED } from '../../domain/history/webhook-messages.ts';
import type { ClearanceState } from '../../domain/clearance/decide-clearance.ts';
import { liveEvents, tokenStands } from '../../http/access/auth.ts';
import type { Pool } from '../../platform/database/db.ts';
import { STATE_COLUMNS, STATE_JOINS, type StateRow, toClearanceState } from '../../records/locks/clearance-state.ts';

/** A sealed row of an event's history, with what the gate answers from now for every entry that it is about. */
export interface ChangeRow {
  /** index of its leaf plus 1: how many have been read with it */
  seq: number;
  action: string;
  at: Date;
  /** those of the run group where it says whether the track is wet; none when it is about the event itself otherwise */
  entries: readonly { entryId: string; carNumber: string; state: ClearanceState }[];
}

interface FlatRow extends StateRow {
  seq: number;
  action: string;
  at: Date;
  entryId: string | null;
  carNumber: string;
}

const HEAD = {
  name: 'stream-head',
  text: `SELECT COALESCE(t.size, 0) AS seq FROM events e LEFT JOIN event_trees t ON t.event_id = e.id WHERE e.id = $1`,
};

const ENTRIES = `SELECT c.entry_id AS "entryId", c.car_number AS "carNumber", ${STATE_COLUMNS}
      FROM clearances c JOIN entries e ON e.id = c.entry_id JOIN run_groups g ON g.id = e.run_group_id ${STATE_JOINS}`;
const CHANGES = {
  name: 'stream-changes',
  text: `SELECT l.seq, l.action, l.at, s.*
    FROM (
      SELECT l.index + 1 AS seq, h.action, h.at, h.entry_id, h.car_id,
        CASE WHEN h.action = '${WET_SWITCHED}' THEN (h.data->>'runGroupId')::uuid END AS group_id
      FROM event_leaves l JOIN history h ON h.id = l.history_id
      WHERE l.event_id = $1 AND l.index >= $2 ORDER BY l.index LIMIT $3
    ) l LEFT JOIN LATERAL (
      ${ENTRIES} WHERE c.event_id = $1 AND c.entry_id = l.entry_id
      UNION ALL ${ENTRIES} WHERE c.event_id = $1 AND c.car_id = l.car_id
      UNION ALL ${ENTRIES} WHERE c.event_id = $1 AND e.run_group_id = l.group_id
    ) s ON true
    ORDER BY l.seq, s."entryId"`,
};

const WORKING = {
  name: 'stream-tokens',
  text: `SELECT id, ${liveEvents('tokens', '$2')} AS "eventIds" FROM tokens
    WHERE id = ANY($1::uuid[]) AND ${tokenStands('tokens', '$2')}`,
};

/** How many rows of an event's history are sealed; undefined for an unknown event. */
export async function findHead(pool: Pool, eventId: string): Promise<number | undefined> {
  const { rows } = await pool.query<{ seq: number }>({ ...HEAD, values: [eventId] });
  return rows[0]?.seq;
}

/**
 * The rows after a number, oldest first, at most `limit`. A row gets its number when it is sealed, one batch after the
 * other, so a number that can be read has none below it that could still appear.
 */
export async function listChanges(
  pool: Pool,
  { eventId, after, limit }: { eventId: string; after: number; limit: number },
): Promise<ChangeRow[]> {
  const { rows } = await pool.query<FlatRow>({ ...CHANGES, values: [eventId, after, limit] });
  const changes = new Map<number, ChangeRow & { entries: ChangeRow['entries'][number][] }>();
  for (const row of rows) {
    const change = changes.get(row.seq) ?? { seq: row.seq, action: row.action, at: row.at, entries: [] };
    changes.set(row.seq, change);
    const { entryId, carNumber } = row;
    if (entryId !== null) change.entries.push({ entryId, carNumber, state: toClearanceState(row) });
  }
  return [...changes.values()];
}

/** Of these tokens, those that work at `now`, each with the events it works at (`undefined`: all). */
export async function listWorkingTokens(
  pool: Pool,
  tokenIds: readonly string[],
  now: Date,
): Promise<Map<string, readonly string[] | undefined>> {
  const { rows } = await pool.query<{ id: string; eventIds: string[] | null }>({ ...WORKING, values: [tokenIds, now] });
  return new Map(rows.map(({ id, eventIds }) => [id, eventIds ?? undefined]));
}
