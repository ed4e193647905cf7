import type { ToldRow } from '../../domain/webhook-messages.ts';
import type { Tx } from '../../platform/db.ts';

/** What a history row tells: its entry, and the entry's rows up to it. */
export interface Told {
  entry: { eventId: string; entryId: string; carNumber: string };
  at: Date;
  /** oldest first; the last is the one that tells */
  rows: ToldRow[];
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

/** Undefined when there is no such row, or it is about no entry. */
export async function findTold(db: Tx, historyId: string): Promise<Told | undefined> {
  const row = await db.history.findUnique({
    where: { id: historyId },
    select: { seq: true, at: true, entryId: true, eventId: true, entry: { select: { carNumber: true } } },
  });
  if (row?.entry == null || row.entryId === null) return undefined;
  const { entryId, eventId, at, seq } = row;
  const rows = await db.history.findMany({
    where: { entryId, seq: { lte: seq } },
    select: ROW,
    orderBy: { seq: 'asc' },
  });
  return {
    entry: { eventId, entryId, carNumber: row.entry.carNumber },
    at,
    rows: rows.map(({ id, action, at, data, ...place }) => ({ historyId: id, action, at, data, ...placeOf(place) })),
  };
}

/** A row that was written to the chain of its event has its place there, so that its messages stay what they were. */
function placeOf({ eventSeq, eventHash, leaf }: Place): Pick<ToldRow, 'eventSeq' | 'eventHash'> {
  if (eventSeq !== null && eventHash !== null) return { eventSeq, eventHash };
  // Messages are ordered where the row is sealed, and the rows of an entry are sealed in their order.
  if (leaf === null) throw new Error('a message was ordered of a row that is not sealed');
  return { eventSeq: leaf.index + 1, eventHash: Buffer.from(leaf.leafHash).toString('hex') };
}
