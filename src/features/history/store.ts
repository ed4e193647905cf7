import type { CarFacts } from '../../domain/clearance/car-happenings.ts';
import type { ClearanceFacts } from '../../domain/clearance/clearance.ts';
import type { Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import type { KeptHead } from '../../records/history/signing.ts';

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

/** A signed head as callers get it: the root is hexadecimal. */
export interface SignedTree {
  size: number;
  root: string;
  at: Date;
  kid: string;
  jws: string;
}

/** The row of an event by its id, or the one that tells a sign-off. */
export async function findSealedRow(
  db: Tx,
  eventId: string,
  { historyId, signOffId }: { historyId?: string | undefined; signOffId?: string | undefined },
): Promise<AuditRow | undefined> {
  const row = await db.history.findFirst({
    where: {
      eventId,
      ...(historyId === undefined ? {} : { id: historyId }),
      ...(signOffId === undefined
        ? {}
        : { action: 'entry.signed-off', data: { path: ['event', 'signOffId'], equals: signOffId } }),
    },
  });
  if (row === null) return undefined;
  const { id, ...rest } = row;
  return { historyId: id, ...rest };
}

export async function findLeaf(db: Tx, historyId: string): Promise<{ index: number; leafHash: Buffer } | undefined> {
  const row = await db.eventLeaf.findUnique({ where: { historyId }, select: { index: true, leafHash: true } });
  return row === null ? undefined : { index: row.index, leafHash: Buffer.from(row.leafHash) };
}

/** The signed head over the most rows; undefined before the first. */
export async function findNewestHead(db: Tx, eventId: string): Promise<SignedTree | undefined> {
  const row = await db.eventHead.findFirst({ where: { eventId }, orderBy: { size: 'desc' } });
  if (row === null) return undefined;
  const { size, root, at, kid, jws } = row;
  return { size, root: Buffer.from(root).toString('hex'), at, kid, jws };
}

const HASH_BYTES = 32;

/** The hashes of the first leaves of an event, in order; as many as there are. */
export async function listLeafHashes(db: Tx, eventId: string, size: number): Promise<Buffer[]> {
  // One value instead of a row per leaf: the driver makes an object of each row.
  const rows = await db.$queryRaw<{ leaves: Uint8Array | null }[]>`
    SELECT string_agg(leaf_hash, ''::bytea ORDER BY index) AS leaves FROM event_leaves
    WHERE event_id = ${eventId}::uuid AND index < ${size}`;
  const bytes = Buffer.from(rows[0]?.leaves ?? []);
  return Array.from({ length: bytes.length / HASH_BYTES }, (_, i) =>
    bytes.subarray(i * HASH_BYTES, (i + 1) * HASH_BYTES),
  );
}

const BATCH = 500;

/** A history row; `entryId` or `carId` says what it is about, neither: the event itself. */
export interface AuditRow {
  historyId: string;
  eventId: string;
  entryId: string | null;
  carId: string | null;
  seq: number;
  action: string;
  actorId: string;
  actorRole: string;
  at: Date;
  data: unknown;
  prevHash: string;
  hash: string;
  /** its link in the chain of the event, where it was written to one */
  eventSeq: number | null;
  eventHash: string | null;
}

/** A leaf with the row that it was made of, where there still is one. */
export interface AuditLeaf {
  index: number;
  leafHash: Buffer;
  row: AuditRow | undefined;
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

/** The head of the chain that the rows of the first version make; 0 and '' without any. */
export async function findChainHead(db: Tx, eventId: string): Promise<{ seq: number; hash: string }> {
  const row = await db.eventChain.findUnique({ where: { eventId }, select: { seq: true, hash: true } });
  return row ?? { seq: 0, hash: '' };
}

/** The tree as the sealer left it; undefined before anything was sealed. */
export async function findTree(
  db: Tx,
  eventId: string,
): Promise<{ size: number; root: Buffer; peaks: Buffer[] } | undefined> {
  const row = await db.eventTree.findUnique({ where: { eventId } });
  if (row === null) return undefined;
  return { size: row.size, root: Buffer.from(row.root), peaks: row.frontier.map((peak) => Buffer.from(peak)) };
}

/** Every signed head of an event, smallest first. */
export async function listHeads(db: Tx, eventId: string): Promise<KeptHead[]> {
  const rows = await db.eventHead.findMany({
    where: { eventId },
    include: { key: { select: { publicJwk: true } } },
    orderBy: { size: 'asc' },
  });
  return rows.map(({ size, root, jws, at, key }) => ({
    size,
    root: Buffer.from(root),
    jws,
    at,
    // written by `insertKey` only
    publicJwk: key.publicJwk as KeptHead['publicJwk'],
  }));
}

export async function listAuditEntries(db: Tx, eventId: string): Promise<AuditEntry[]> {
  const rows = await db.clearance.findMany({ where: { entry: { eventId } }, orderBy: { entryId: 'asc' } });
  return rows.map(({ entryId, carNumber, facts, historySeq, historyHash }) => ({
    entryId,
    carNumber,
    // written by `recordEntryHistory` only
    facts: facts as unknown as ClearanceFacts,
    historySeq,
    historyHash,
  }));
}

/** The same of a car. */
export interface AuditCar {
  carId: string;
  facts: CarFacts;
  historySeq: number;
  historyHash: string;
}

export async function listAuditCars(db: Tx, eventId: string): Promise<AuditCar[]> {
  const rows = await db.carClearance.findMany({ where: { eventId }, orderBy: { id: 'asc' } });
  return rows.map(({ id, facts, historySeq, historyHash }) => ({
    carId: id,
    // written by `recordCarHistory` only
    facts: facts as unknown as CarFacts,
    historySeq,
    historyHash,
  }));
}

/** The head that the chain of the event's own rows must end at. */
export interface AuditHead {
  eventId: string;
  historySeq: number;
  historyHash: string;
}

export async function findEventHead(db: Tx, eventId: string): Promise<AuditHead> {
  const select = { historySeq: true, historyHash: true };
  return { eventId, ...(await db.event.findUniqueOrThrow({ where: { id: eventId }, select })) };
}

const COLUMNS = Prisma.sql`h.id AS "historyId", h.event_id AS "eventId", h.entry_id AS "entryId", h.car_id AS "carId", h.seq,
  h.action, h.actor_id AS "actorId", h.actor_role AS "actorRole", h.at, h.data, h.prev_hash AS "prevHash", h.hash,
  h.event_seq AS "eventSeq", h.event_hash AS "eventHash"`;

/** The leaves of an event in their order, some hundred at a time. */
export async function* readLeaves(db: Tx, eventId: string): AsyncGenerator<AuditLeaf> {
  let after = -1;
  for (;;) {
    const rows = await db.$queryRaw<({ index: number; leafHash: Uint8Array } & AuditRow)[]>`
      SELECT l.index, l.leaf_hash AS "leafHash", ${COLUMNS}
      FROM event_leaves l LEFT JOIN history h ON h.id = l.history_id
      WHERE l.event_id = ${eventId}::uuid AND l.index > ${after} ORDER BY l.index LIMIT ${BATCH}`;
    for (const { index, leafHash, ...row } of rows) {
      // The join gives nulls where the row is gone.
      const isThere = (row.historyId as string | null) !== null;
      yield { index, leafHash: Buffer.from(leafHash), row: isThere ? row : undefined };
    }
    after = rows.at(-1)?.index ?? after;
    if (rows.length < BATCH) return;
  }
}

/** What a decision of the line keeps whole of what it rests on; `lists` null: it keeps nothing. */
export interface AuditLists {
  signOffId: string;
  entryId: string;
  lists: Uint8Array | null;
  listsSha256: string | null;
}

/** Of every decision of an event, some at a time. */
export async function* readLists(db: Tx, eventId: string): AsyncGenerator<AuditLists> {
  let after = '00000000-0000-0000-0000-000000000000';
  for (;;) {
    const rows = await db.$queryRaw<AuditLists[]>`
      SELECT s.id AS "signOffId", s.entry_id AS "entryId", s.lists, s.lists_sha256 AS "listsSha256"
      FROM sign_offs s WHERE s.event_id = ${eventId}::uuid AND s.id > ${after}::uuid ORDER BY s.id LIMIT ${BATCH}`;
    yield* rows;
    const last = rows.at(-1);
    if (last === undefined || rows.length < BATCH) return;
    after = last.signOffId;
  }
}

/** The rows of an event that are no leaves, those of a subject in their order, with whether the sealer knows of them. */
export async function* readUnsealed(db: Tx, eventId: string): AsyncGenerator<AuditRow & { isQueued: boolean }> {
  let [seq, id] = [0, '00000000-0000-0000-0000-000000000000'];
  for (;;) {
    const rows = await db.$queryRaw<(AuditRow & { isQueued: boolean })[]>`
      SELECT ${COLUMNS}, u.history_id IS NOT NULL AS "isQueued"
      FROM history h LEFT JOIN event_leaves l ON l.history_id = h.id LEFT JOIN unsealed_history u ON u.history_id = h.id
      WHERE h.event_id = ${eventId}::uuid AND l.history_id IS NULL AND (h.seq, h.id) > (${seq}, ${id}::uuid)
      ORDER BY h.seq, h.id LIMIT ${BATCH}`;
    yield* rows;
    const last = rows.at(-1);
    if (last === undefined || rows.length < BATCH) return;
    [seq, id] = [last.seq, last.historyId];
  }
}
