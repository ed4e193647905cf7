import {
  calculateJwkThumbprint,
  CompactSign,
  compactVerify,
  exportJWK,
  generateKeyPair,
  importJWK,
  type JWK,
} from 'jose';
import type pg from 'pg';
import { z } from 'zod';
import { type Db, inTransaction, type Tx } from '../../platform/database/db.ts';
import type { Deps } from '../../deps.ts';

/** ECDSA on P-256 with SHA-256 (RFC 7518, section 3.4): what browsers of telephones verify without a library. */
const SIGNATURE = 'ES256';
// Any fixed number that nothing else in the database uses.
const KEYS_LOCK = 4_021_177_311;
const DAY_MS = 86_400_000;
/** Days for which a key that no longer signs is still published: longer than any list that it signed can be used. */
export const PUBLISHED_DAYS = 7;

interface SigningKey {
  /** its thumbprint (RFC 7638) */
  kid: string;
  privateJwk: JWK;
}

export interface PublishedKey {
  kid: string;
  publicJwk: JWK;
  createdAt: Date;
  retiredAt: Date | null;
  /** exclusive; null while it signs */
  publishedUntil: Date | null;
}

/** The key that signs. Made when it is first needed; processes that need it at once take turns, so there is one. */
export async function currentSigningKey(db: Db, now: Date): Promise<SigningKey> {
  return (
    (await findCurrent(db)) ??
    inTransaction(db, async (tx) => {
      await lockKeys(tx);
      return (await findCurrent(tx)) ?? insertKey(tx, now);
    })
  );
}

/** Makes a new key that signs from now on; those before it are published for `PUBLISHED_DAYS` more. */
export async function rotateSigningKey(db: Db, now: Date): Promise<void> {
  await inTransaction(db, async (tx) => {
    await lockKeys(tx);
    await tx.signingKey.updateMany({ where: { retiredAt: null }, data: { retiredAt: now } });
    // What cannot sign any more cannot be stolen either.
    await tx.signingKey.updateMany({ where: { retiredAt: { not: null } }, data: { privateJwk: {} } });
    await insertKey(tx, now);
  });
}

/** The keys that verify, newest first; there is always one that signs. */
export async function listPublishedKeys(db: Db, now: Date): Promise<PublishedKey[]> {
  await currentSigningKey(db, now);
  const rows = await db.signingKey.findMany({
    where: { OR: [{ retiredAt: null }, { retiredAt: { gt: new Date(now.getTime() - PUBLISHED_DAYS * DAY_MS) } }] },
    select: { kid: true, publicJwk: true, createdAt: true, retiredAt: true },
    orderBy: [{ retiredAt: { sort: 'desc', nulls: 'first' } }, { createdAt: 'desc' }, { kid: 'asc' }],
  });
  return rows.map(({ publicJwk, ...row }) => ({
    ...row,
    // written by `insertKey` only
    publicJwk: publicJwk as JWK,
    publishedUntil: row.retiredAt === null ? null : new Date(row.retiredAt.getTime() + PUBLISHED_DAYS * DAY_MS),
  }));
}

/** The public keys that ever signed a head of a history, newest first: they are published for good. */
export async function listHeadKeys(db: Db): Promise<JWK[]> {
  const rows = await db.signingKey.findMany({
    where: { heads: { some: {} } },
    select: { publicJwk: true },
    orderBy: [{ createdAt: 'desc' }, { kid: 'asc' }],
  });
  // written by `insertKey` only
  return rows.map(({ publicJwk }) => publicJwk as JWK);
}

/**
 * Signs a text as a compact JWS (RFC 7515).
 *
 * @param typ what kind of thing is signed, so that it cannot pass for another
 */
export async function signCompact({ kid, privateJwk }: SigningKey, payload: string, typ: string): Promise<string> {
  const key = await importJWK(privateJwk, SIGNATURE);
  return new CompactSign(new TextEncoder().encode(payload)).setProtectedHeader({ alg: SIGNATURE, kid, typ }).sign(key);
}

async function findCurrent(db: Tx): Promise<SigningKey | undefined> {
  const row = await db.signingKey.findFirst({
    where: { retiredAt: null },
    select: { kid: true, privateJwk: true },
    orderBy: [{ createdAt: 'desc' }, { kid: 'asc' }],
  });
  return row === null ? undefined : { kid: row.kid, privateJwk: row.privateJwk as JWK };
}

async function insertKey(tx: Tx, now: Date): Promise<SigningKey> {
  const { privateKey, publicKey } = await generateKeyPair(SIGNATURE, { extractable: true });
  const [privateJwk, bare] = await Promise.all([exportJWK(privateKey), exportJWK(publicKey)]);
  const kid = await calculateJwkThumbprint(bare);
  const publicJwk = { ...bare, kid, alg: SIGNATURE, use: 'sig' };
  await tx.signingKey.create({
    data: { kid, privateJwk: { ...privateJwk }, publicJwk, createdAt: now },
  });
  return { kid, privateJwk };
}

async function lockKeys(tx: Tx): Promise<void> {
  await tx.$executeRaw`SELECT pg_advisory_xact_lock(${KEYS_LOCK})`;
}

/** `typ` of a signed head (RFC 7515, section 4.1.9): nothing else that the same keys sign can pass for one. */
export const HEAD_TYPE = 'gridworthy-head+jwt';

/** Any fixed number that no other lock of the sealing uses; heads are signed by one process at a time. */
const HEADS_LOCK = 4_021_177_320;
/** Trees whose heads are signed in one go. */
const MOST = 100;

/** What a signed head says. Instants are RFC 3339 in UTC, hashes hexadecimal. */
export const SignedHead = z.object({
  iss: z.string(),
  eventId: z.string(),
  /** number of leaves */
  size: z.int(),
  /** root of the tree over them (RFC 9162, section 2.1.1) */
  root: z.string(),
  at: z.string(),
});
export type SignedHead = z.infer<typeof SignedHead>;

/** A signed head as it is kept, with the key that signed it. */
export interface KeptHead {
  size: number;
  root: Buffer;
  jws: string;
  at: Date;
  publicJwk: JWK;
}

/** What a head says, where its signature fits its key and it is a head; undefined otherwise. */
export async function verifyHead({ jws, publicJwk }: KeptHead): Promise<SignedHead | undefined> {
  try {
    const { payload, protectedHeader } = await compactVerify(jws, await importJWK(publicJwk, SIGNATURE));
    if (protectedHeader.typ !== HEAD_TYPE) return undefined;
    return SignedHead.safeParse(JSON.parse(Buffer.from(payload).toString('utf8'))).data;
  } catch {
    // Whatever is wrong with it: it is no head.
    return undefined;
  }
}

interface GrownTree {
  eventId: string;
  size: number;
  root: Buffer;
}

/** Signs the heads of trees that grew since their last one, and keeps them. */
export async function signHeads(deps: Deps, pool: pg.Pool): Promise<void> {
  // Without the lock first: mostly nothing has grown.
  if ((await listGrown(pool)).length === 0) return;
  const key = await currentSigningKey(deps.db.prisma, deps.clock.now());
  const client = await pool.connect();
  let broken: Error | undefined;
  try {
    await client.query('BEGIN');
    const { rows } = await client.query<{ mine: boolean }>('SELECT pg_try_advisory_xact_lock($1) AS mine', [
      HEADS_LOCK,
    ]);
    const grown = rows[0]?.mine === true ? await listGrown(client) : [];
    for (const tree of grown) await insertHead(client, await headOf(deps, key, tree));
    await client.query('COMMIT');
  } catch (error) {
    broken = error instanceof Error ? error : new Error(String(error));
    throw error;
  } finally {
    client.release(broken);
  }
}

async function listGrown(db: pg.Pool | pg.PoolClient): Promise<GrownTree[]> {
  const { rows } = await db.query<GrownTree>({
    name: 'heads-grown',
    text: `SELECT t.event_id AS "eventId", t.size, t.root FROM event_trees t
      WHERE t.signed_size <> t.size
      ORDER BY t.event_id LIMIT ${MOST}`,
  });
  return rows;
}

interface HeadRow extends GrownTree {
  kid: string;
  jws: string;
  at: Date;
}

async function headOf({ config, clock }: Deps, key: SigningKey, tree: GrownTree): Promise<HeadRow> {
  const at = clock.now();
  const says: SignedHead = {
    iss: config.publicUrl ?? 'gridworthy',
    eventId: tree.eventId,
    size: tree.size,
    root: tree.root.toString('hex'),
    at: at.toISOString(),
  };
  return { ...tree, kid: key.kid, at, jws: await signCompact(key, JSON.stringify(says), HEAD_TYPE) };
}

async function insertHead(client: pg.PoolClient, { eventId, size, root, kid, jws, at }: HeadRow): Promise<void> {
  await client.query({
    name: 'heads-insert',
    text: `WITH kept AS (
        INSERT INTO event_heads (event_id, size, root, kid, jws, at) VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT DO NOTHING
      ) UPDATE event_trees SET signed_size = $2 WHERE event_id = $1`,
    values: [eventId, size, root, kid, jws, at],
  });
}
