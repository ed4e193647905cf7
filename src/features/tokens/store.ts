import { type Role, personKey } from '../../domain/actor.ts';
import type { Tx } from '../../platform/db.ts';
import type { TokenView } from './schemas.ts';

interface NewToken {
  hash: Buffer;
  role: Role;
  holder: string;
  entryId?: string | undefined;
  createdBy?: string;
}

interface Row {
  id: string;
  role: string;
  holder: string;
  entryId: string | null;
  createdAt: Date;
  revokedAt: Date | null;
}

const VIEWED = { id: true, role: true, holder: true, entryId: true, createdAt: true, revokedAt: true } as const;
// Any fixed number that nothing else in the database uses.
const BOOTSTRAP_LOCK = 4_021_177_306;

function toView(row: Row): TokenView {
  return {
    tokenId: row.id,
    // The table has a CHECK on role, so the text is one of ours.
    role: row.role as Role,
    holder: row.holder,
    ...(row.entryId === null ? {} : { entryId: row.entryId }),
    createdAt: row.createdAt.toISOString(),
    revoked: row.revokedAt !== null,
    ...(row.revokedAt === null ? {} : { revokedAt: row.revokedAt.toISOString() }),
  };
}

export async function insertToken(db: Tx, token: NewToken): Promise<TokenView> {
  const data = { ...token, hash: new Uint8Array(token.hash), holderKey: personKey(token.holder) };
  return toView(await db.token.create({ data, select: VIEWED }));
}

export async function hasEntry(db: Tx, entryId: string): Promise<boolean> {
  return (await db.entry.count({ where: { id: entryId } })) > 0;
}

/** Tokens in order of their id, which is the order they were made in. */
export async function listTokens(db: Tx, after: string | undefined, take: number): Promise<TokenView[]> {
  const where = after === undefined ? {} : { id: { gt: after } };
  const rows = await db.token.findMany({ where, select: VIEWED, orderBy: { id: 'asc' }, take });
  return rows.map(toView);
}

export async function findToken(db: Tx, tokenId: string): Promise<TokenView | undefined> {
  const row = await db.token.findUnique({ where: { id: tokenId }, select: VIEWED });
  return row === null ? undefined : toView(row);
}

export async function findTokenByHash(db: Tx, hash: Buffer): Promise<TokenView | undefined> {
  const row = await db.token.findUnique({ where: { hash: new Uint8Array(hash) }, select: VIEWED });
  return row === null ? undefined : toView(row);
}

/** Locks the live organizer tokens and returns their ids, so that two organizers cannot revoke each other at once. */
export async function lockLiveOrganizers(tx: Tx): Promise<string[]> {
  const rows = await tx.$queryRaw<{ id: string }[]>`
    SELECT id FROM tokens WHERE role = 'organizer' AND revoked_at IS NULL ORDER BY id FOR UPDATE`;
  return rows.map((row) => row.id);
}

/** Revokes a token; one that is revoked already keeps its first instant. */
export async function updateRevoked(db: Tx, tokenId: string, revokedAt: Date): Promise<void> {
  await db.token.updateMany({ where: { id: tokenId, revokedAt: null }, data: { revokedAt } });
}

/** Makes processes that start at once take turns until the end of the transaction. */
export async function lockBootstrap(tx: Tx): Promise<void> {
  await tx.$executeRaw`SELECT pg_advisory_xact_lock(${BOOTSTRAP_LOCK})`;
}

export async function hasLiveOrganizer(db: Tx): Promise<boolean> {
  return (await db.token.count({ where: { role: 'organizer', revokedAt: null } })) > 0;
}
