import type { Tx } from '../../platform/db.ts';
import type { AuditRow } from './store.ts';

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
