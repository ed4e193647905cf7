import type { Tx } from '../../platform/database/db.ts';

export interface HistoryRow {
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

/** The history of an entry and that of its car, oldest first, and the heads their chains must end at. */
export interface FoundHistory {
  rows: HistoryRow[];
  head: { seq: number; hash: string };
  carId: string;
  carRows: HistoryRow[];
  carHead: { seq: number; hash: string };
}

/** Rows about an event itself, oldest first, after the one with the number `after`; undefined for an unknown event. */
export async function listEventHistory(
  tx: Tx,
  { eventId, after, take }: { eventId: string; after: number; take: number },
): Promise<HistoryRow[] | undefined> {
  if ((await tx.event.count({ where: { id: eventId } })) === 0) return undefined;
  const where = { eventId, entryId: null, carId: null, seq: { gt: after } };
  return tx.history.findMany({ where, orderBy: { seq: 'asc' }, take });
}

/** Undefined for an unknown entry. Read it in a transaction that sees one state of the database. */
export async function findHistory(tx: Tx, entryId: string): Promise<FoundHistory | undefined> {
  const clearance = await tx.clearance.findUnique({ where: { entryId }, include: { car: true } });
  if (clearance === null) return undefined;
  const { carId, historySeq, historyHash, car } = clearance;
  return {
    rows: await tx.history.findMany({ where: { entryId }, orderBy: { seq: 'asc' } }),
    head: { seq: historySeq, hash: historyHash },
    carId,
    carRows: await tx.history.findMany({ where: { carId }, orderBy: { seq: 'asc' } }),
    carHead: { seq: car.historySeq, hash: car.historyHash },
  };
}
