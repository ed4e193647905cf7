import { calculateJwkThumbprint, CompactSign, exportJWK, generateKeyPair, importJWK, type JWK } from 'jose';
import { type Db, inTransaction, type Tx } from '../../platform/database/db.ts';

/** ECDSA on P-256 with SHA-256 (RFC 7518, section 3.4): what browsers of telephones verify without a library. */
export const SIGNATURE = 'ES256';
// Any fixed number that nothing else in the database uses.
const LOCK = 4_021_177_311;
const DAY_MS = 86_400_000;
/** Days for which a key that no longer signs is still published: longer than any list that it signed can be used. */
export const PUBLISHED_DAYS = 7;

export interface SigningKey {
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
  await tx.$executeRaw`SELECT pg_advisory_xact_lock(${LOCK})`;
}
