import { compactVerify, importJWK, type JWK } from 'jose';
import type pg from 'pg';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { currentSigningKey, SIGNATURE, type SigningKey, signCompact } from './signing-keys.ts';

/** `typ` of a signed head (RFC 7515, section 4.1.9): nothing else that the same keys sign can pass for one. */
export const HEAD_TYPE = 'gridworthy-head+jwt';

/** Any fixed number that no other lock of the sealing uses; heads are signed by one process at a time. */
const LOCK = 4_021_177_320;
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
    const { rows } = await client.query<{ mine: boolean }>('SELECT pg_try_advisory_xact_lock($1) AS mine', [LOCK]);
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
