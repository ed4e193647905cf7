import { createHash, randomBytes } from 'node:crypto';
import type { FastifyRequest } from 'fastify';
import type { Actor, Role } from '../domain/actor.ts';
import type { Pool } from '../platform/db.ts';
import { notFound, ProblemError } from './problem.ts';

/** Who may call a route: everybody, any valid token, or the named roles. */
export type Access = 'public' | 'any' | readonly Role[];

const PREFIX = 'gw_';
const TOKEN = /^Bearer +([\x21-\x7e]{1,200})$/i;

/** A new bearer token: 256 random bits. It is shown once; only its hash is stored. */
export function newToken(): string {
  return PREFIX + randomBytes(32).toString('base64url');
}

/**
 * SHA-256 of a token. A token is random and long, so a fast hash is enough: there is nothing to guess, and the gate
 * checks one at every lookup.
 */
export function hashToken(token: string): Buffer {
  return createHash('sha256').update(token).digest();
}

/** The hash of the request's bearer token, null without one. Computed once: the limiter and the token check share it. */
export function tokenHashOf(request: FastifyRequest): Buffer | null {
  if (request.tokenHash === undefined) {
    const { authorization } = request.headers;
    const token = authorization === undefined ? undefined : TOKEN.exec(authorization)?.[1];
    request.tokenHash = token === undefined ? null : hashToken(token);
  }
  return request.tokenHash;
}

export interface TokenRow {
  id: string;
  role: string;
  holder: string;
  entry_id: string | null;
}

const FIND_TOKEN = {
  name: 'find-token',
  text: `SELECT id, role, holder, entry_id FROM tokens WHERE hash = $1 AND ${tokenWorks('tokens', '$2')}`,
};

/** The condition, in SQL, that a row of `tokens` works at an instant: neither revoked nor expired. */
export function tokenWorks(table: string, now: string): string {
  return `${table}.revoked_at IS NULL AND (${table}.expires_at IS NULL OR ${table}.expires_at > ${now}::timestamptz)`;
}

/**
 * Finds out who asks. Reads the database every time, so a revoked token stops at once, and one that expired at its
 * instant.
 *
 * @throws ProblemError `unauthenticated`
 */
export async function authenticate(pool: Pool, tokenHash: Buffer | null, now: Date): Promise<Actor> {
  if (tokenHash === null) throw unauthenticated();
  const { rows } = await pool.query<TokenRow>({ ...FIND_TOKEN, values: [tokenHash, now] });
  return actorOf(rows[0]);
}

/** @throws ProblemError `unauthenticated` when there is no row */
export function actorOf(row: TokenRow | undefined): Actor {
  if (row === undefined) throw unauthenticated();
  // The table has a CHECK on role, so the text is one of ours.
  return { tokenId: row.id, role: row.role as Role, name: row.holder, entryId: row.entry_id ?? undefined };
}

export function unauthenticated(): ProblemError {
  return new ProblemError(
    'unauthenticated',
    'Send a valid token as `Authorization: Bearer <token>`.',
    {},
    { 'www-authenticate': 'Bearer realm="gridworthy"' },
  );
}

/**
 * Checks the role, and for an entrant that the path's `entryId` is his: another's entry must look like none.
 *
 * @throws ProblemError `forbidden`, `not-found`
 */
export function authorize(actor: Actor, access: Access, params: unknown): void {
  if (access === 'public') return;
  if (access !== 'any' && !access.includes(actor.role)) {
    throw new ProblemError('forbidden', `This needs one of the roles: ${access.join(', ')}. Yours is ${actor.role}.`);
  }
  const entryId = (params as Record<string, unknown> | undefined)?.['entryId'];
  if (actor.role === 'entrant' && typeof entryId === 'string' && entryId.toLowerCase() !== actor.entryId) {
    throw notFound('entry');
  }
}

declare module 'fastify' {
  interface FastifyRequest {
    actor: Actor | null;
    /** undefined until `tokenHashOf` has looked */
    tokenHash: Buffer | null | undefined;
  }
  interface FastifyContextConfig {
    access?: Access;
    /** the route looks its caller up itself, in the same statement as its data */
    authenticatesItself?: boolean;
  }
}

/** The caller of a route that is not public. */
export function actorIn(request: FastifyRequest): Actor {
  if (request.actor === null) throw unauthenticated();
  return request.actor;
}
