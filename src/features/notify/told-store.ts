import type { Story, ToldRow } from '../../domain/history/webhook-messages.ts';
import type { Tx } from '../../platform/database/db.ts';
import { DAYS_COLUMNS_SQL } from '../../records/locks/clearance-state.ts';
import type { Prisma } from '../../platform/prisma-client/client.ts';

/** What a history row tells of one entry. */
export interface Told {
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

/** Nothing when there is no such row, or it is about the event itself; for a row about a car, each of its entries. */
export async function listTold(db: Tx, historyId: string): Promise<{ at: Date; told: Told[] }> {
  const row = await db.history.findUnique({
    where: { id: historyId },
    select: { seq: true, at: true, entryId: true, carId: true },
  });
  if (row === null) return { at: new Date(0), told: [] };
  const entries = await listEntries(db, row);
  const told: Told[] = [];
  for (const { carId, runGroup, days_from: from, days_until: until, ...entry } of entries) {
    const ofEntry = row.entryId === null ? {} : { seq: { lte: row.seq } };
    const ofCar = row.carId === null ? {} : { seq: { lte: row.seq } };
    const story: Story = {
      of: row.carId === null ? 'entry' : 'car',
      rows: await listRows(db, { entryId: entry.entryId, ...ofEntry }),
      carRows: await listRows(db, { carId, ...ofCar }),
      runGroup,
      days: { from, until },
    };
    told.push({ entry, story });
  }
  return { at: row.at, told };
}

interface EntryRow {
  eventId: string;
  entryId: string;
  carNumber: string;
  carId: string;
  runGroup: string;
  days_from: Date;
  days_until: Date;
}

async function listEntries(db: Tx, of: { entryId: string | null; carId: string | null }): Promise<EntryRow[]> {
  return db.$queryRaw<EntryRow[]>`
    SELECT c.event_id AS "eventId", c.entry_id AS "entryId", c.car_number AS "carNumber", c.car_id AS "carId",
      g.name AS "runGroup", ${DAYS_COLUMNS_SQL}
    FROM clearances c JOIN entries e ON e.id = c.entry_id JOIN run_groups g ON g.id = e.run_group_id
      JOIN events ev ON ev.id = c.event_id JOIN venues ve ON ve.id = ev.venue_id
    WHERE c.entry_id = ${of.entryId}::uuid OR c.car_id = ${of.carId}::uuid
    ORDER BY c.entry_id`;
}

async function listRows(db: Tx, where: Prisma.HistoryWhereInput): Promise<ToldRow[]> {
  const rows = await db.history.findMany({ where, select: ROW, orderBy: { seq: 'asc' } });
  return rows.map(({ id, action, at, data, ...place }) => ({ historyId: id, action, at, data, ...placeOf(place) }));
}

/** A row that was written to the chain of its event has its place there, so that its messages stay what they were. */
function placeOf({ eventSeq, eventHash, leaf }: Place): Pick<ToldRow, 'eventSeq' | 'eventHash'> {
  if (eventSeq !== null && eventHash !== null) return { eventSeq, eventHash };
  // Only the row that tells must have its place: it was ordered where it was sealed. What the other subject wrote beside it
  // may wait a moment longer, and its place is told nowhere.
  if (leaf === null) return { eventSeq: 0, eventHash: '' };
  return { eventSeq: leaf.index + 1, eventHash: Buffer.from(leaf.leafHash).toString('hex') };
}
