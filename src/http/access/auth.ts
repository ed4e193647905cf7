import type { FastifyRequest } from 'fastify';
import { hash, randomBytes } from 'node:crypto';
import type { Actor, Role } from '../../domain/actor.ts';
import { addDays, type PlainDate, startOfNextDay } from '../../domain/calendar.ts';
import type { Pool } from '../../platform/database/db.ts';
import { notFound, ProblemError } from '../frame/problem.ts';

/** Whole days at the venue, after the last event day, on which a token for the event still works. */
const DAYS_AFTER = 1;

/** The first instant at which a token for this event no longer works there. */
export function tokenEndAt(event: { endsOn: PlainDate; timeZone: string }): Date {
  return startOfNextDay(addDays(event.endsOn, DAYS_AFTER), event.timeZone);
}

/**
 * In SQL, the events that a row of `tokens` is for and at which it still works, as `uuid[]`; NULL for a token that is
 * bound to none. The same day as `tokenEndAt`, of the event as it stands.
 */
export function liveEvents(table: string, now: string): string {
  const end = `(ev.ends_on + ${DAYS_AFTER + 1})::timestamp AT TIME ZONE ve.time_zone`;
  return `(SELECT COALESCE(array_agg(te.event_id) FILTER (WHERE ${end} > ${now}::timestamptz), '{}')
    FROM token_events te JOIN events ev ON ev.id = te.event_id JOIN venues ve ON ve.id = ev.venue_id
    WHERE te.token_id = ${table}.id HAVING count(*) > 0)`;
}

/** What a path can name, by the event it is below. A vehicle is below each event that it is entered in. */
const BELOW: Readonly<Record<string, string>> = {
  eventId: 'SELECT $1::uuid AS event_id',
  entryId: 'SELECT event_id FROM entries WHERE id = $1',
  claimId: 'SELECT t.event_id FROM claims c JOIN tickets t ON t.id = c.ticket_id WHERE c.id = $1',
  inspectionId: 'SELECT e.event_id FROM inspections i JOIN entries e ON e.id = i.entry_id WHERE i.id = $1',
  photoId: 'SELECT e.event_id FROM photos p JOIN entries e ON e.id = p.entry_id WHERE p.id = $1',
  holdId: 'SELECT e.event_id FROM holds h JOIN entries e ON e.id = h.entry_id WHERE h.id = $1',
  concessionId: 'SELECT e.event_id FROM concessions c JOIN entries e ON e.id = c.entry_id WHERE c.id = $1',
  rejudgementId: 'SELECT g.event_id FROM tasks t JOIN run_groups g ON g.id = t.subject_id WHERE t.id = $1',
  runGroupId: 'SELECT event_id FROM run_groups WHERE id = $1',
  vehicleId: 'SELECT event_id FROM entries WHERE vehicle_id = $1',
  keptId: 'SELECT e.event_id FROM kept_calculations k JOIN entries e ON e.vehicle_id = k.vehicle_id WHERE k.id = $1',
};
/** What is below no event, or below what the path names before it. */
const ELSEWHERE: ReadonlySet<string> = new Set([
  'ruleSetId',
  'version',
  'name',
  'carNumber',
  'ruleId',
  'conditionId',
  'sheet',
]);
const WORDS: Readonly<Record<string, string>> = {
  runGroupId: 'run group',
  rejudgementId: 're-judgement',
  photoId: 'photo',
  keptId: 'kept calculation',
};
const UUID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/i;

/** The names in a path that nobody has said the event of; a route with one must not register. */
export function unplaced(url: string): string[] {
  const names = [...url.matchAll(/:(\w+)/g)].map(([, name = '']) => name);
  return names.filter((name) => BELOW[name] === undefined && !ELSEWHERE.has(name));
}

/**
 * Refuses whoever has a token for other events: what is below another event must look as if it were not there.
 *
 * @throws ProblemError `not-found`
 */
export async function assertReaches(pool: Pool, actor: Actor, params: unknown): Promise<void> {
  if (actor.eventIds === undefined) return;
  const named = Object.entries((params ?? {}) as Record<string, unknown>);
  for (const [name, value] of named) {
    const below = BELOW[name];
    // What is no id is refused by the route's own schema.
    if (below === undefined || typeof value !== 'string' || !UUID.test(value)) continue;
    const { rows } = await pool.query<{ reaches: boolean }>({
      name: `reaches-${name}`,
      text: `SELECT EXISTS (SELECT 1 FROM (${below}) b WHERE b.event_id = ANY($2::uuid[])) AS reaches`,
      values: [value, actor.eventIds],
    });
    if (rows[0]?.reaches !== true) throw notFound(WORDS[name] ?? name.replace(/Id$/, ''));
  }
}

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
  return hash('sha256', token, 'buffer');
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
  personId: string | null;
  entryId: string | null;
  vehicleId: string | null;
  shopId: string | null;
  /** the events it is for and that are not over; null for one that is bound to none */
  eventIds: readonly string[] | null;
}

/**
 * Columns of `TokenRow` and the condition for its row, in SQL. The row of a token whose events are all over is found
 * too, with none left: `actorOf` refuses it.
 */
export const tokenColumns = (table: string, now: string): string =>
  `${table}.id, ${table}.role, ${table}.holder, ${table}.person_id AS "personId",
  ${table}.entry_id AS "entryId", ${table}.vehicle_id AS "vehicleId", ${table}.shop_id AS "shopId",
  ${liveEvents(table, now)} AS "eventIds"`;
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
  if (row === undefined || row.eventIds?.length === 0) throw unauthenticated(true);
  return {
    tokenId: row.id,
    // The table has a CHECK on role, so the text is one of ours.
    role: row.role as Role,
    name: row.holder,
    personId: row.personId ?? undefined,
    entryId: row.entryId ?? undefined,
    vehicleId: row.vehicleId ?? undefined,
    shopId: row.shopId ?? undefined,
    eventIds: row.eventIds ?? undefined,
  };
}

/**
 * Whoever sent a token hears that it is none that works, as RFC 6750 (section 3.1) has it; who sent none only hears what is wanted.
 *
 * @param sent whether there was a token
 */
export function unauthenticated(sent = false): ProblemError {
  return new ProblemError(
    'unauthenticated',
    'Send a valid token as `Authorization: Bearer <token>`.',
    {},
    { 'www-authenticate': sent ? challenge('invalid_token') : 'Bearer realm="gridworthy"' },
  );
}

const challenge = (error: 'invalid_token' | 'insufficient_scope') => `Bearer realm="gridworthy", error="${error}"`;

/**
 * Checks the role, for an entrant that the path's `entryId` is his, for the link of a car that the path's `vehicleId` is
 * that car, and for a shop that the path's `shopId` is its own: another's must look like none.
 *
 * @throws ProblemError `forbidden`, `not-found`
 */
export function authorize(actor: Actor, access: Access, params: unknown): void {
  if (access === 'public') return;
  if (access !== 'any' && !access.includes(actor.role)) {
    const detail = `This needs one of the roles: ${access.join(', ')}. Yours is ${actor.role}.`;
    throw new ProblemError('forbidden', detail, {}, { 'www-authenticate': challenge('insufficient_scope') });
  }
  const own = OWN[actor.role];
  if (own === undefined) return;
  const named = (params as Record<string, unknown> | undefined)?.[own.name];
  if (typeof named === 'string' && named.toLowerCase() !== actor[own.name]) throw notFound(own.word);
}

/** Who has a token for one thing, what paths call it, and people. */
const OWN: Partial<Record<Role, { name: 'entryId' | 'vehicleId' | 'shopId'; word: string }>> = {
  entrant: { name: 'entryId', word: 'entry' },
  owner: { name: 'vehicleId', word: 'vehicle' },
  shop: { name: 'shopId', word: 'shop' },
};

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
