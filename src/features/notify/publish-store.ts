import { type PublishedRow, type Story, WET_SWITCHED } from '../../domain/history/webhook-messages.ts';
import type { Pool, Tx } from '../../platform/database/db.ts';
import {
  DAYS_COLUMNS_SQL,
  type DaysRow,
  STATE_COLUMNS,
  STATE_JOINS,
  type StateRow,
  toClearanceState,
  toDays,
} from '../../records/what-stands.ts';
import type { Prisma } from '../../platform/prisma-client/client.ts';
import type { ClearanceState } from '../../domain/clearance/decide-clearance.ts';
import { liveEvents, tokenStands } from '../../http/access/auth.ts';

/** What a history row publishes of one entry. */
export interface Publication {
  entry: { eventId: string; entryId: string; carNumber: string };
  story: Story;
}

const ROW = {
  id: true,
  action: true,
  at: true,
  data: true,
  eventSeq: true,
  eventHash: true,
  leaf: { select: { index: true, leafHash: true } },
} as const;

interface Place {
  eventSeq: number | null;
  eventHash: string | null;
  leaf: { index: number; leafHash: Uint8Array } | null;
}

/**
 * Nothing when there is no such row; for a row about a car each of its entries, for one that says whether the track is wet
 * each entry of the run group, for any other about the event itself none.
 */
export async function listPublications(db: Tx, historyId: string): Promise<{ at: Date; publications: Publication[] }> {
  const row = await db.history.findUnique({
    where: { id: historyId },
    select: { seq: true, at: true, entryId: true, carId: true, eventId: true, action: true, data: true },
  });
  if (row === null) return { at: new Date(0), publications: [] };
  const groupId = row.action === WET_SWITCHED ? (row.data as { runGroupId: string }).runGroupId : null;
  const of = groupId !== null ? 'group' : row.carId !== null ? 'car' : 'entry';
  const entries = await listEntries(db, { ...row, groupId });
  const wetRows = new Map<string, PublishedRow[]>();
  const publications: Publication[] = [];
  for (const { eventId, entryId, carNumber, carId, runGroupId, runGroup, ...days } of entries) {
    const entry = { eventId, entryId, carNumber };
    const upTo = (subject: Story['of']) => (of === subject ? { seq: { lte: row.seq } } : {});
    const wet = wetRows.get(runGroupId) ?? (await listWetRows(db, { eventId: row.eventId, runGroupId }, upTo('group')));
    wetRows.set(runGroupId, wet);
    const story: Story = {
      of,
      rows: await listRows(db, { entryId: entry.entryId, ...upTo('entry') }),
      carRows: await listRows(db, { carId, ...upTo('car') }),
      wetRows: wet,
      runGroup,
      days: toDays(days),
    };
    publications.push({ entry, story });
  }
  return { at: row.at, publications };
}

interface EntryRow extends DaysRow {
  eventId: string;
  entryId: string;
  carNumber: string;
  carId: string;
  runGroupId: string;
  runGroup: string;
}

async function listEntries(
  db: Tx,
  of: { entryId: string | null; carId: string | null; groupId: string | null },
): Promise<EntryRow[]> {
  return db.$queryRaw<EntryRow[]>`
    SELECT c.event_id AS "eventId", c.entry_id AS "entryId", c.car_number AS "carNumber", c.car_id AS "carId",
      g.id AS "runGroupId", g.name AS "runGroup", ${DAYS_COLUMNS_SQL}
    FROM clearances c JOIN entries e ON e.id = c.entry_id JOIN run_groups g ON g.id = e.run_group_id
      JOIN events ev ON ev.id = c.event_id JOIN venues ve ON ve.id = ev.venue_id
    WHERE c.entry_id IN (
      SELECT entry_id FROM clearances WHERE entry_id = ${of.entryId}::uuid OR car_id = ${of.carId}::uuid
      UNION ALL SELECT id FROM entries WHERE run_group_id = ${of.groupId}::uuid
    )
    ORDER BY c.entry_id`;
}

/** The rows of an event that say for a run group whether the track is wet. */
async function listWetRows(
  db: Tx,
  { eventId, runGroupId }: { eventId: string; runGroupId: string },
  upTo: Prisma.HistoryWhereInput,
): Promise<PublishedRow[]> {
  const about = { eventId, entryId: null, carId: null, ...upTo };
  return listRows(db, { ...about, action: WET_SWITCHED, data: { path: ['runGroupId'], equals: runGroupId } });
}

async function listRows(db: Tx, where: Prisma.HistoryWhereInput): Promise<PublishedRow[]> {
  const rows = await db.history.findMany({ where, select: ROW, orderBy: { seq: 'asc' } });
  return rows.map(({ id, action, at, data, ...place }) => ({ historyId: id, action, at, data, ...placeOf(place) }));
}

/** A row that was written to the chain of its event has its place there, so that its messages stay what they were. */
function placeOf({ eventSeq, eventHash, leaf }: Place): Pick<PublishedRow, 'eventSeq' | 'eventHash'> {
  if (eventSeq !== null && eventHash !== null) return { eventSeq, eventHash };
  // Only the row that is published must have its place: it was ordered where it was sealed. What the other subject wrote beside it
  // may wait a moment longer, and its place is published nowhere.
  if (leaf === null) return { eventSeq: 0, eventHash: '' };
  return { eventSeq: leaf.index + 1, eventHash: Buffer.from(leaf.leafHash).toString('hex') };
}

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
