import type { Tx } from '../../platform/db.ts';

export interface HistoryRow {
  entryId: string;
  seq: number;
  at: Date;
  action: string;
  actorId: string;
  actorRole: string;
  actorName: string;
  data: unknown;
  prevHash: string;
  hash: string;
}

/** The whole history of an entry, oldest first, and the head its chain must end at; undefined for an unknown entry. */
export async function findHistory(
  db: Tx,
  entryId: string,
): Promise<{ rows: HistoryRow[]; head: { seq: number; hash: string } } | undefined> {
  // Head first: rows written between the two reads are cut off, instead of looking like rows too many.
  const head = await db.clearance.findUnique({ where: { entryId }, select: { historySeq: true, historyHash: true } });
  if (head === null) return undefined;
  const rows = await db.history.findMany({ where: { entryId }, orderBy: { seq: 'asc' } });
  const seen = await db.clearance.findUnique({ where: { entryId }, select: { historySeq: true, historyHash: true } });
  if (seen === null || seen.historySeq !== head.historySeq) return findHistory(db, entryId);
  return { rows: rows.map((row) => ({ ...row, entryId })), head: { seq: head.historySeq, hash: head.historyHash } };
}
