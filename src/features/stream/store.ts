import type { ClearanceFacts } from '../../domain/clearance.ts';
import { tokenStands } from '../../http/auth.ts';
import { liveEvents } from '../../http/token-events.ts';
import type { Pool } from '../../platform/db.ts';

/** A sealed row of an event's history, with what the gate answers from now where it is about an entry. */
export interface ChangeRow {
  /** index of its leaf plus 1: how many have been read with it */
  seq: number;
  action: string;
  at: Date;
  /** null when it is about a car or the event */
  entryId: string | null;
  carId: string | null;
  carNumber: string | null;
  facts: ClearanceFacts | null;
}

const HEAD = {
  name: 'stream-head',
  text: `SELECT COALESCE(t.size, 0) AS seq FROM events e LEFT JOIN event_trees t ON t.event_id = e.id WHERE e.id = $1`,
};

const CHANGES = {
  name: 'stream-changes',
  text: `SELECT l.index + 1 AS seq, h.entry_id AS "entryId", h.car_id AS "carId", c.car_number AS "carNumber", h.action, h.at,
      c.facts
    FROM event_leaves l JOIN history h ON h.id = l.history_id LEFT JOIN clearances c ON c.entry_id = h.entry_id
    WHERE l.event_id = $1 AND l.index >= $2 ORDER BY l.index LIMIT $3`,
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
  const { rows } = await pool.query<ChangeRow>({ ...CHANGES, values: [eventId, after, limit] });
  return rows;
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
