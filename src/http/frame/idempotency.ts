import type { Actor } from '../../domain/actor.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import type { Pool, Tx } from '../../platform/database/db.ts';
import { deleteInBatches } from '../../platform/queue/job.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import { ProblemError } from './problem.ts';
import type { Answer } from './route.ts';

/** Days for which an answer is kept. */
export const KEPT_DAYS = 14;
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

/** The key of a request that may go without one. @throws ProblemError `invalid-request` as `parseIdempotencyKey` */
export function findIdempotencyKey(header: string | undefined): string | undefined {
  return header === undefined ? undefined : parseIdempotencyKey(header);
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
  assertSameBody(stored.fingerprint, fingerprint);
  return {
    // Status and body are set before the record is committed, so a record that is seen has them.
    status: stored.status as number,
    body: stored.body,
    headers: { ...(stored.headers as Record<string, string>), 'idempotency-replayed': 'true' },
  };
}

/** @throws ProblemError `idempotency-key-reused` when the kept fingerprint is of another body */
export function assertSameBody(kept: string, fingerprint: string): void {
  if (kept === fingerprint) return;
  throw new ProblemError('idempotency-key-reused', 'This Idempotency-Key was used with another body. Use a new key.');
}

/** A request as its record names it. */
export interface Repeatable {
  principal: string;
  route: string;
  key: string;
  fingerprint: string;
}

/** What makes a request the same one, for writes that look for its record after their lock. */
export function repeatable({ actor, route, key, body }: IdempotentRequest): Repeatable {
  return { principal: actor.tokenId, route, key, fingerprint: canonicalHash(body ?? null) };
}

/** The record of a request, in the row of a statement with `KEPT_COLUMNS` and `keptJoin`; null where there is none. */
export interface KeptRow {
  keptFingerprint: string | null;
  keptStatus: number | null;
  keptHeaders: Record<string, string> | null;
  keptBody: string | null;
}

export const KEPT_COLUMNS = Prisma.sql`ky.fingerprint AS "keptFingerprint", ky.status AS "keptStatus",
  ky.headers AS "keptHeaders", ky.body::text AS "keptBody"`;

/** Joins the record of a request; undefined: of one that has no key. */
export function keptJoin(request: Repeatable | undefined): Prisma.Sql {
  if (request === undefined) return Prisma.sql`LEFT JOIN idempotency ky ON false`;
  const { principal, route, key } = request;
  return Prisma.sql`LEFT JOIN idempotency ky
    ON ky.principal = ${principal}::uuid AND ky.route = ${route} AND ky.key = ${key} AND ky.expires_at > now()`;
}

/**
 * The answer that the request got before, undefined when it is the first.
 *
 * @throws ProblemError `idempotency-key-reused`
 */
export function replayKept(row: KeptRow, request: Repeatable | undefined): Answer | undefined {
  if (row.keptFingerprint === null || row.keptStatus === null || request === undefined) return undefined;
  assertSameBody(row.keptFingerprint, request.fingerprint);
  const headers = { ...row.keptHeaders, 'idempotency-replayed': 'true' };
  return { status: row.keptStatus, bodyText: row.keptBody ?? 'null', headers };
}

/**
 * The record of a request with its answer, as a part of the write of that request; returns one row. None: somebody used the key
 * since it was looked for, so the write `mustChange` it: the next try finds his answer.
 */
export function rememberPart(request: Repeatable, answer: Answer & { bodyText: string }): Prisma.Sql {
  const { principal, route, key, fingerprint } = request;
  return Prisma.sql`
    INSERT INTO idempotency (principal, route, key, fingerprint, status, headers, body, expires_at)
    VALUES (${principal}::uuid, ${route}, ${key}, ${fingerprint}, ${answer.status},
            ${JSON.stringify(answer.headers ?? {})}::jsonb, ${answer.bodyText}::jsonb, now() + ${`${KEPT_DAYS} days`}::interval)
    ON CONFLICT (principal, route, key) DO UPDATE SET fingerprint = EXCLUDED.fingerprint, status = EXCLUDED.status,
      headers = EXCLUDED.headers, body = EXCLUDED.body, created_at = now(), expires_at = EXCLUDED.expires_at
      WHERE idempotency.expires_at <= now()
    RETURNING 1 AS one`;
}

/** Forgets records whose time is over. */
export async function purgeIdempotency(pool: Pool, signal?: AbortSignal): Promise<void> {
  const text = `DELETE FROM idempotency WHERE ctid IN
    (SELECT ctid FROM idempotency WHERE expires_at <= now() ORDER BY expires_at LIMIT $1)`;
  await deleteInBatches(pool, { text }, signal);
}
