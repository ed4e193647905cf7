import type { ClearanceFacts } from '../../domain/clearance.ts';
import { tokenStands } from '../../http/auth.ts';
import { liveEvents } from '../../http/token-events.ts';
import type { Pool } from '../../platform/db.ts';

/** A row of an event's history, with what the gate answers from now. */
export interface ChangeRow {
  seq: number;
  entryId: string;
  carNumber: string;
  action: string;
  at: Date;
  facts: ClearanceFacts;
}

const HEAD = {
  name: 'stream-head',
  text: `SELECT COALESCE(c.seq, 0) AS seq FROM events e LEFT JOIN event_chains c ON c.event_id = e.id WHERE e.id = $1`,
};

const CHANGES = {
  name: 'stream-changes',
  text: `SELECT h.event_seq AS seq, h.entry_id AS "entryId", c.car_number AS "carNumber", h.action, h.at, c.facts
    FROM history h JOIN clearances c ON c.entry_id = h.entry_id
    WHERE h.event_id = $1 AND h.event_seq > $2 ORDER BY h.event_seq LIMIT $3`,
};

const WORKING = {
  name: 'stream-tokens',
  text: `SELECT id, ${liveEvents('tokens', '$2')} AS "eventIds" FROM tokens
    WHERE id = ANY($1::uuid[]) AND ${tokenStands('tokens', '$2')}`,
};

/** How many rows the history of an event has; undefined for an unknown event. */
export async function findHead(pool: Pool, eventId: string): Promise<number | undefined> {
  const { rows } = await pool.query<{ seq: number }>({ ...HEAD, values: [eventId] });
  return rows[0]?.seq;
}

/**
 * The rows after a number, oldest first, at most `limit`. A row gets its number under a lock that is held until the
 * commit, so a number that can be read has none below it that could still appear.
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
