import type { ClearanceFacts } from '../../domain/clearance.ts';
import type { Tx } from '../../platform/db.ts';

const BATCH = 500;

/** A history row with its place in both chains. */
export interface AuditRow {
  entryId: string;
  seq: number;
  action: string;
  actorId: string;
  actorRole: string;
  at: Date;
  data: unknown;
  prevHash: string;
  hash: string;
  eventSeq: number;
  eventHash: string;
}

/** What the database says of an entry: the head its chain must end at, and what the gate answers from. */
export interface AuditEntry {
  entryId: string;
  carNumber: string;
  facts: ClearanceFacts;
  historySeq: number;
  historyHash: string;
}

/** Events with their names, oldest first; all of them or the one asked for. */
export async function listEvents(db: Tx, eventId?: string): Promise<{ eventId: string; name: string }[]> {
  const where = eventId === undefined ? {} : { id: eventId };
  const rows = await db.event.findMany({ where, select: { id: true, name: true }, orderBy: { id: 'asc' } });
  return rows.map(({ id, name }) => ({ eventId: id, name }));
}

export async function findHead(db: Tx, eventId: string): Promise<{ seq: number; hash: string }> {
  return (await db.eventChain.findUnique({ where: { eventId }, select: { seq: true, hash: true } })) ?? NO_ROWS;
}

const NO_ROWS = { seq: 0, hash: '' };

export async function listAuditEntries(db: Tx, eventId: string): Promise<AuditEntry[]> {
  const rows = await db.clearance.findMany({ where: { entry: { eventId } }, orderBy: { entryId: 'asc' } });
  return rows.map(({ entryId, carNumber, facts, historySeq, historyHash }) => ({
    entryId,
    carNumber,
    // written by `recordEvent` only
    facts: facts as unknown as ClearanceFacts,
    historySeq,
    historyHash,
  }));
}

/** The event's history in the order of its chain, some hundred rows at a time. */
export async function* readAuditRows(db: Tx, eventId: string): AsyncGenerator<AuditRow> {
  let after: number | undefined;
  for (;;) {
    const rows: AuditRow[] = await db.history.findMany({
      where: { entry: { eventId }, ...(after === undefined ? {} : { eventSeq: { gt: after } }) },
      orderBy: { eventSeq: 'asc' },
      take: BATCH,
    });
    yield* rows;
    after = rows.at(-1)?.eventSeq;
    if (rows.length < BATCH) return;
  }
}
