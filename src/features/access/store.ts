import { OF_EVENTS, personKey, type Role } from '../../domain/actor.ts';
import type { PlainDate } from '../../domain/calendar.ts';
import type { Tx } from '../../platform/database/db.ts';
import { TOKEN_EVENTS, type TokenEventRow, viewTokenEvents } from '../../records/history/event-history.ts';
import { tokenWorks } from '../../http/access/auth.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import type { EnrolledRole, TokenView } from './schemas.ts';

interface NewToken {
  hash: Buffer;
  role: Role;
  holder: string;
  personId?: string | undefined;
  entryId?: string | undefined;
  eventIds?: readonly string[] | undefined;
  createdBy?: string;
  expiresAt?: Date | undefined;
}

interface Row {
  id: string;
  role: string;
  holder: string;
  personId: string | null;
  entryId: string | null;
  createdBy: string | null;
  createdAt: Date;
  revokedAt: Date | null;
  expiresAt: Date | null;
  events: readonly TokenEventRow[];
}

const VIEWED = {
  id: true,
  role: true,
  holder: true,
  personId: true,
  entryId: true,
  createdBy: true,
  createdAt: true,
  revokedAt: true,
  expiresAt: true,
  events: TOKEN_EVENTS,
} as const;
// Any fixed number that nothing else in the database uses.
const BOOTSTRAP_LOCK = 4_021_177_306;

function toView(row: Row, now: Date): TokenView {
  // The table has a CHECK on role, so the text is one of ours.
  const role = row.role as Role;
  const events = viewTokenEvents(row.events);
  const endsAt = endOf(row.expiresAt?.toISOString(), events?.at(-1)?.endsAt);
  return {
    tokenId: row.id,
    role,
    holder: row.holder,
    ...(row.personId === null ? {} : { personId: row.personId }),
    ...(row.entryId === null ? {} : { entryId: row.entryId }),
    ...(row.createdBy === null ? {} : { createdBy: row.createdBy }),
    createdAt: row.createdAt.toISOString(),
    ...(row.expiresAt === null ? {} : { expiresAt: row.expiresAt.toISOString() }),
    ...(events === undefined ? {} : { events }),
    ...(endsAt === undefined ? {} : { endsAt }),
    unbound: events === undefined && OF_EVENTS.includes(role),
    state: stateOf(row.revokedAt, endsAt, now),
    revoked: row.revokedAt !== null,
    ...(row.revokedAt === null ? {} : { revokedAt: row.revokedAt.toISOString() }),
  };
}

/** The earlier of two instants in UTC, of which there may be none. */
function endOf(...ends: (string | undefined)[]): string | undefined {
  return ends.filter((end) => end !== undefined).toSorted()[0];
}

function stateOf(revokedAt: Date | null, endsAt: string | undefined, now: Date): TokenView['state'] {
  if (revokedAt !== null) return 'revoked';
  return endsAt !== undefined && Date.parse(endsAt) <= now.getTime() ? 'expired' : 'live';
}

export async function insertToken(db: Tx, { eventIds, ...token }: NewToken, now: Date): Promise<TokenView> {
  const events = eventIds === undefined ? {} : { events: { create: eventIds.map((eventId) => ({ eventId })) } };
  const data = {
    ...token,
    ...events,
    createdAt: now,
    hash: new Uint8Array(token.hash),
    holderKey: personKey(token.holder),
  };
  return toView(await db.token.create({ data, select: VIEWED }), now);
}

/** What minting for an entry needs to know; undefined when there is no such entry. */
export async function findTokenEntry(
  db: Tx,
  entryId: string,
): Promise<{ endsOn: PlainDate; timeZone: string; erased: boolean } | undefined> {
  const row = await db.entry.findUnique({
    where: { id: entryId },
    select: { erasedAt: true, event: { select: { endsOn: true, venue: { select: { timeZone: true } } } } },
  });
  if (row === null) return undefined;
  return {
    endsOn: row.event.endsOn.toISOString().slice(0, 10),
    timeZone: row.event.venue.timeZone,
    erased: row.erasedAt !== null,
  };
}

/** Locks a token until the end of the transaction; undefined when there is none. */
export async function lockToken(tx: Tx, tokenId: string): Promise<{ role: Role; revoked: boolean } | undefined> {
  const rows = await tx.$queryRaw<{ role: Role; revoked: boolean }[]>`
    SELECT role, revoked_at IS NOT NULL AS revoked FROM tokens WHERE id = ${tokenId}::uuid FOR UPDATE`;
  return rows[0];
}

/** The events that the token is for from now on. */
export async function replaceTokenEvents(tx: Tx, tokenId: string, eventIds: readonly string[]): Promise<void> {
  await tx.tokenEvent.deleteMany({ where: { tokenId, eventId: { notIn: [...eventIds] } } });
  const data = eventIds.map((eventId) => ({ tokenId, eventId }));
  await tx.tokenEvent.createMany({ data, skipDuplicates: true });
}

/** Tokens in order of their id, which is the order they were made in. */
export async function listTokens(
  db: Tx,
  { after, take, now }: { after: string | undefined; take: number; now: Date },
): Promise<TokenView[]> {
  const where = after === undefined ? {} : { id: { gt: after } };
  const rows = await db.token.findMany({ where, select: VIEWED, orderBy: { id: 'asc' }, take });
  return rows.map((row) => toView(row, now));
}

export async function findToken(db: Tx, tokenId: string, now: Date): Promise<TokenView | undefined> {
  const row = await db.token.findUnique({ where: { id: tokenId }, select: VIEWED });
  return row === null ? undefined : toView(row, now);
}

export async function findTokenByHash(db: Tx, hash: Buffer, now: Date): Promise<TokenView | undefined> {
  const row = await db.token.findUnique({ where: { hash: new Uint8Array(hash) }, select: VIEWED });
  return row === null ? undefined : toView(row, now);
}

/**
 * Locks the organizer tokens that work without an end and returns their ids, so that two organizers cannot revoke each
 * other at once. One that will expire does not count: nobody could administer the server afterwards.
 */
export async function lockLastingOrganizers(tx: Tx): Promise<string[]> {
  const rows = await tx.$queryRaw<{ id: string }[]>`
    SELECT id FROM tokens WHERE role = 'organizer' AND revoked_at IS NULL AND expires_at IS NULL ORDER BY id FOR UPDATE`;
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

/** Whether an organizer token works that has no end. */
export async function hasLastingOrganizer(db: Tx): Promise<boolean> {
  return (await db.token.count({ where: { role: 'organizer', revokedAt: null, expiresAt: null } })) > 0;
}

export interface StoredEnrolment {
  enrolmentId: string;
  role: EnrolledRole;
  holder: string;
  personId: string | null;
  /** the events that the token will be for; none for an organizer, and for codes from before */
  eventIds: string[];
  createdBy: string;
  expiresAt: Date;
  used: boolean;
  /** whether the token that made it still works */
  makerWorks: boolean;
}

const MAKER_WORKS = Prisma.raw(tokenWorks('t', 'redeemed.at'));

export async function insertEnrolment(
  db: Tx,
  enrolment: {
    codeHash: Buffer;
    role: EnrolledRole;
    holder: string;
    personId: string | undefined;
    eventIds: string[];
    createdBy: string;
    createdAt: Date;
    expiresAt: Date;
  },
): Promise<string> {
  const data = { ...enrolment, personId: enrolment.personId ?? null, codeHash: new Uint8Array(enrolment.codeHash) };
  return (await db.enrolment.create({ data, select: { id: true } })).id;
}

/** Locks the enrolment of a code until the end of the transaction, if there is one. Read it afterwards. */
export async function lockEnrolment(tx: Tx, codeHash: Buffer): Promise<void> {
  await tx.$queryRaw`SELECT 1 FROM enrolments WHERE code_hash = ${codeHash} FOR UPDATE`;
}

/** The enrolment of a code; undefined when there is none. `now` decides whether its maker's token still works. */
export async function findEnrolment(tx: Tx, codeHash: Buffer, now: Date): Promise<StoredEnrolment | undefined> {
  const rows = await tx.$queryRaw<StoredEnrolment[]>`
    SELECT e.id::text AS "enrolmentId", e.role, e.holder, e.person_id AS "personId",
      e.event_ids AS "eventIds", e.created_by::text AS "createdBy", e.expires_at AS "expiresAt",
      e.used_at IS NOT NULL AS used,
      EXISTS (SELECT 1 FROM tokens t WHERE t.id = e.created_by AND ${MAKER_WORKS}) AS "makerWorks"
    FROM enrolments e CROSS JOIN (SELECT ${now}::timestamptz AS at) redeemed WHERE e.code_hash = ${codeHash}`;
  return rows[0];
}

/** The token and the mark on the enrolment belong together: call it in the transaction that locked the enrolment. */
export async function insertEnrolledToken(
  tx: Tx,
  enrolment: StoredEnrolment,
  token: { hash: Buffer; at: Date },
): Promise<string> {
  const { role, holder, personId, createdBy, eventIds } = enrolment;
  const events = { create: eventIds.map((eventId) => ({ eventId })) };
  const data = {
    hash: new Uint8Array(token.hash),
    role,
    holder,
    holderKey: personKey(holder),
    personId,
    createdBy,
    createdAt: token.at,
    events,
  };
  const { id } = await tx.token.create({ data, select: { id: true } });
  await tx.enrolment.update({ where: { id: enrolment.enrolmentId }, data: { usedAt: token.at, tokenId: id } });
  return id;
}
