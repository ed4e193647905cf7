import { createHash, randomBytes } from 'node:crypto';
import type { FastifyRequest } from 'fastify';
import type { Actor, Role } from '../domain/actor.ts';
import type { Pool } from '../platform/db.ts';
import { notFound, ProblemError } from './problem.ts';
import { liveEvents } from './token-events.ts';

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
  /** the events it is for and that are not over; null for one that is bound to none */
  event_ids: readonly string[] | null;
}

/**
 * Columns of `TokenRow` and the condition for its row, in SQL. The row of a token whose events are all over is found
 * too, with none left: `actorOf` refuses it.
 */
export const tokenColumns = (table: string, now: string): string =>
  `${table}.id, ${table}.role, ${table}.holder, ${table}.entry_id, ${liveEvents(table, now)} AS event_ids`;
export const tokenStands = (table: string, now: string): string =>
  `${table}.revoked_at IS NULL AND (${table}.expires_at IS NULL OR ${table}.expires_at > ${now}::timestamptz)`;

const FIND_TOKEN = {
  name: 'find-token',
  text: `SELECT ${tokenColumns('tokens', '$2')} FROM tokens WHERE hash = $1 AND ${tokenStands('tokens', '$2')}`,
};

/**
 * The condition, in SQL, that a row of `tokens` works at an instant: neither revoked nor expired, and where it is for
 * named events, one of them is not over. Derived from the events as they stand, so that it moves with them.
 */
export function tokenWorks(table: string, now: string): string {
  return `${tokenStands(table, now)} AND ${liveEvents(table, now)} IS DISTINCT FROM '{}'::uuid[]`;
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

/** @throws ProblemError `unauthenticated` when there is no row, or its events are all over */
export function actorOf(row: TokenRow | undefined): Actor {
  if (row === undefined || row.event_ids?.length === 0) throw unauthenticated();
  return {
    tokenId: row.id,
    // The table has a CHECK on role, so the text is one of ours.
    role: row.role as Role,
    name: row.holder,
    entryId: row.entry_id ?? undefined,
    eventIds: row.event_ids ?? undefined,
  };
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
    /** takes a clearance away: never shed, on connections of its own, with a limit of its own for each caller */
    stopsCars?: boolean;
  }
}

/** The caller of a route that is not public. */
export function actorIn(request: FastifyRequest): Actor {
  if (request.actor === null) throw unauthenticated();
  return request.actor;
}
