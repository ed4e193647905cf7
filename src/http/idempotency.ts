import type { Actor } from '../domain/actor.ts';
import { canonicalHash } from '../platform/canonical-json.ts';
import type { Pool, Tx } from '../platform/db.ts';
import { deleteInBatches } from '../platform/keeper.ts';
import { ProblemError } from './problem.ts';
import type { Answer } from './route.ts';

const KEPT_DAYS = 14;
const KEY = /^[\x21-\x7e]{1,255}$/;

/** What makes two requests the same one: who, which operation, which key, and the body's fingerprint. */
export interface IdempotentRequest {
  actor: Actor;
  /** method and path with ids filled in */
  route: string;
  key: string;
  body: unknown;
}

/**
 * Reads the `Idempotency-Key` header; the draft's quoted form and the bare form mean the same key.
 *
 * @throws ProblemError `idempotency-key-required` when it is missing, `invalid-request` when it is not 1 to 255
 *   printable ASCII characters
 */
export function parseIdempotencyKey(header: string | string[] | undefined): string {
  if (typeof header !== 'string' || header === '') {
    throw new ProblemError('idempotency-key-required', 'Send an Idempotency-Key header, for example a new UUID.');
  }
  const key = /^"(.*)"$/.exec(header)?.[1] ?? header;
  if (KEY.test(key)) return key;
  const detail = 'Must be 1 to 255 printable ASCII characters.';
  throw new ProblemError('invalid-request', `Idempotency-Key: ${detail}`, {
    errors: [{ pointer: '/idempotency-key', code: 'bad-key', detail, in: 'header' }],
  });
}

/**
 * Runs `change` at most once per key. The record is written in the caller's transaction, so it exists exactly when the
 * change does: a refusal leaves no record, a crash after commit answers the retry with the same answer.
 *
 * Concurrent requests with one key wait for the first on the table's primary key, then replay its answer.
 *
 * @throws ProblemError `idempotency-key-reused` when the key was used with another body
 */
export async function once(tx: Tx, request: IdempotentRequest, change: () => Promise<Answer>): Promise<Answer> {
  const fingerprint = canonicalHash(request.body ?? null);
  const where = { principal: request.actor.tokenId, route: request.route, key: request.key };
  const inserted = await tx.$executeRaw`
    INSERT INTO idempotency (principal, route, key, fingerprint, expires_at)
    VALUES (${where.principal}::uuid, ${where.route}, ${where.key}, ${fingerprint},
            now() + ${`${KEPT_DAYS} days`}::interval)
    ON CONFLICT (principal, route, key) DO UPDATE SET fingerprint = EXCLUDED.fingerprint,
      status = NULL, headers = NULL, body = NULL, created_at = now(), expires_at = EXCLUDED.expires_at
      WHERE idempotency.expires_at <= now()`;
  if (inserted === 0) return replay(tx, where, fingerprint);
  const result = await change();
  await tx.idempotency.update({
    where: { principal_route_key: where },
    data: { status: result.status, headers: { ...result.headers }, body: result.body as object },
  });
  return result;
}

async function replay(
  tx: Tx,
  where: { principal: string; route: string; key: string },
  fingerprint: string,
): Promise<Answer> {
  const stored = await tx.idempotency.findUniqueOrThrow({ where: { principal_route_key: where } });
  if (stored.fingerprint !== fingerprint) {
    throw new ProblemError('idempotency-key-reused', 'This Idempotency-Key was used with another body. Use a new key.');
  }
  return {
    // Status and body are set before the record is committed, so a record that is seen has them.
    status: stored.status as number,
    body: stored.body,
    headers: { ...(stored.headers as Record<string, string>), 'idempotency-replayed': 'true' },
  };
}

/** Forgets records whose time is over. */
export async function purgeIdempotency(pool: Pool, signal?: AbortSignal): Promise<void> {
  const text = `DELETE FROM idempotency WHERE ctid IN
    (SELECT ctid FROM idempotency WHERE expires_at <= now() ORDER BY expires_at LIMIT $1)`;
  await deleteInBatches(pool, { text }, signal);
}
