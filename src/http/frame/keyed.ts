import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { canonicalHash } from '../../platform/canonical-json.ts';
import type { Pool } from '../../platform/database/db.ts';
import { contentHash } from '../../platform/photos/photo-store.ts';
import { actorIn } from '../access/auth.ts';
import { OptionalIdempotencyKey } from './common-schemas.ts';
import { assertSameBody, KEPT_DAYS, parseIdempotencyKey } from './idempotency.ts';
import { ProblemError } from './problem.ts';
import { PROBLEMS, type ProblemSlug } from './problems.ts';
import type { Answer, RouteSpec } from './route.ts';

/** A request that has not ended after this long never will: its process is gone. */
const ENDED_SECONDS = 60;

type AnySpec = RouteSpec<z.ZodType | undefined, z.ZodType | undefined, z.ZodType | undefined, z.ZodType | undefined>;

export const KEY_REFUSALS: readonly ProblemSlug[] = ['idempotency-key-reused', 'idempotency-key-busy'];

/**
 * Whether a route honours an `Idempotency-Key` here: every POST that creates, unless it does so itself, in the transaction of
 * its change. Not where the body is read by the handler, for then nobody knows whether it is the same.
 */
export function isKeyed(
  spec: Pick<AnySpec, 'method' | 'success' | 'access' | 'headers' | 'bodyType' | 'authenticatesItself'>,
): boolean {
  const creates = spec.method === 'POST' && (201 in spec.success || 202 in spec.success);
  const knowsWho = spec.access !== 'public' && spec.authenticatesItself !== true;
  const itself = spec.headers instanceof z.ZodObject && 'idempotency-key' in spec.headers.shape;
  return creates && knowsWho && !itself && spec.bodyType?.startsWith('multipart/') !== true;
}

/** The headers of such a route, with the key. */
export function withKey(headers: z.ZodType | undefined): z.ZodType {
  return headers instanceof z.ZodObject ? headers.extend(OptionalIdempotencyKey.shape) : OptionalIdempotencyKey;
}

/**
 * Runs a handler at most once per key. The key is taken before, in a statement of its own, and given back when the request is
 * refused. Where the process dies in between, nobody can tell whether the change was made: the key stays taken, and the
 * caller is told to look.
 *
 * @param shownOnce the answer has a secret that is kept nowhere: a repeat hears that it was made, and nothing of it
 * @throws ProblemError `idempotency-key-reused`, `idempotency-key-busy`, `shown-once`
 */
export async function runKeyed(
  request: FastifyRequest,
  { shownOnce }: { shownOnce: boolean },
  handle: () => Promise<Answer>,
): Promise<Answer> {
  const header = request.headers['idempotency-key'];
  if (header === undefined) return handle();
  const key = parseIdempotencyKey(header);
  const pool = request.server.keyPool;
  const where = [actorIn(request).tokenId, `${request.method} ${request.url}`, key];
  const fingerprint = fingerprintOf(request.body);
  const earlier = await take(pool, where, fingerprint);
  if (earlier !== undefined) return replay(earlier, fingerprint);
  let result: Answer;
  try {
    result = await handle();
  } catch (error) {
    // A refusal changed nothing. Of anything else nobody knows what it changed.
    if (error instanceof ProblemError && PROBLEMS[error.slug].status < 500) await giveBack(pool, where);
    throw error;
  }
  const body = shownOnce ? null : (result.bodyText ?? JSON.stringify(result.body ?? null));
  await pool.query(
    'UPDATE idempotency SET status = $4, headers = $5, body = $6 WHERE principal = $1 AND route = $2 AND key = $3',
    [...where, result.status, JSON.stringify(result.headers ?? {}), body],
  );
  return result;
}

function fingerprintOf(body: unknown): string {
  return Buffer.isBuffer(body) ? contentHash(body) : canonicalHash(body ?? null);
}

interface Earlier {
  fingerprint: string;
  status: number | null;
  headers: Record<string, string> | null;
  body: string | null;
  ended: boolean;
}

/** Takes a key, for as long as answers are kept; gives what is known of it where it was taken before. */
async function take(pool: Pool, where: readonly string[], fingerprint: string): Promise<Earlier | undefined> {
  const taken = await pool.query(
    `INSERT INTO idempotency (principal, route, key, fingerprint, expires_at)
      VALUES ($1, $2, $3, $4, now() + make_interval(days => ${KEPT_DAYS}))
      ON CONFLICT (principal, route, key) DO UPDATE SET fingerprint = EXCLUDED.fingerprint, status = NULL, headers = NULL,
        body = NULL, created_at = now(), expires_at = EXCLUDED.expires_at
        WHERE idempotency.expires_at <= now()`,
    [...where, fingerprint],
  );
  if (taken.rowCount === 1) return undefined;
  const { rows } = await pool.query<Earlier>(
    `SELECT fingerprint, status, headers, body::text AS body,
        created_at < now() - make_interval(secs => ${ENDED_SECONDS}) AS ended
      FROM idempotency WHERE principal = $1 AND route = $2 AND key = $3`,
    [...where],
  );
  // Given back in between: as if it were under way, and the next try takes it.
  return rows[0] ?? { fingerprint, status: null, headers: null, body: null, ended: false };
}

function replay({ fingerprint, status, headers, body, ended }: Earlier, asked: string): Answer {
  assertSameBody(fingerprint, asked);
  if (status === null) {
    const detail = ended
      ? 'A request with this key ended without an answer. Look whether what it asked for is there; if not, send it with a new key.'
      : 'A request with this key is under way. Send it again in a moment.';
    throw new ProblemError('idempotency-key-busy', detail, {}, ended ? {} : { 'retry-after': '1' });
  }
  if (body === null) {
    throw new ProblemError(
      'shown-once',
      'It was made by the first request with this key, and its secret was in that answer only.',
    );
  }
  return { status, bodyText: body, headers: { ...headers, 'idempotency-replayed': 'true' } };
}

async function giveBack(pool: Pool, where: readonly string[]): Promise<void> {
  await pool.query('DELETE FROM idempotency WHERE principal = $1 AND route = $2 AND key = $3 AND status IS NULL', [
    ...where,
  ]);
}

/** Where keys are kept. */
export function installKeys(app: FastifyInstance, pool: Pool): void {
  app.decorate('keyPool', pool);
}

declare module 'fastify' {
  interface FastifyInstance {
    keyPool: Pool;
  }
}
