import type { ToldRow } from '../../domain/webhook-messages.ts';
import type { Tx } from '../../platform/db.ts';

/** What a history row tells: its entry, and the entry's rows up to it. */
export interface Told {
  entry: { eventId: string; entryId: string; carNumber: string };
  at: Date;
  /** oldest first; the last is the one that tells */
  rows: ToldRow[];
}

const ROW = { id: true, action: true, at: true, data: true, eventSeq: true, eventHash: true } as const;

/** Undefined when there is no such row: what was rolled back tells nothing. */
export async function findTold(db: Tx, historyId: string): Promise<Told | undefined> {
  const row = await db.history.findUnique({
    where: { id: historyId },
    select: { seq: true, at: true, entryId: true, eventId: true, entry: { select: { carNumber: true } } },
  });
  if (row === null) return undefined;
  const { entryId, eventId, at, seq } = row;
  const rows = await db.history.findMany({
    where: { entryId, seq: { lte: seq } },
    select: ROW,
    orderBy: { seq: 'asc' },
  });
  return {
    entry: { eventId, entryId, carNumber: row.entry.carNumber },
    at,
    rows: rows.map(({ id, ...rest }) => ({ historyId: id, ...rest })),
  };
}
