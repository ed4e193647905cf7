import { v7 as uuidV7 } from 'uuid';
import type { Actor } from '../../domain/actor.ts';
import type { Concession } from '../../domain/clearance/concession.ts';
import type { ChosenLook } from '../../domain/foresight/line-looks.ts';
import type { NamedInstrument } from '../../domain/line/instruments.ts';
import type { Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import { CONCESSION_JSON } from '../../records/what-stands.ts';
import { CONCERNED, type Concerned, mayConcernOthersOnly } from '../../records/conflict-of-interest.ts';
import { LINE_ORDER } from '../../records/tickets.ts';

export interface LineRow {
  ticketId: string;
  entryId: string;
  inspectionId: string;
  carNumber: string;
  runGroupId: string;
  runGroup: string;
  vehicle: { description: string; colour?: string };
  verdict: 'barred' | 'to-inspect' | 'clean';
  queuedAt: Date;
  firstSessionAt: Date;
  /** all of the entry, whatever they cover and whether they count */
  concessions: Concession[];
  ruleSetId: string;
  ruleSetVersion: number;
  resolvedHash: string | null;
  claimId: string | null;
  inspectorName: string | null;
  expiresAt: Date | null;
  /** when it is told to be there, and in which lane */
  toldAt: Date | null;
  lane: number | null;
  notHereAt: Date | null;
}

/** The tickets on the line in the order of their turn. A claim shows only while its lease runs (database clock). */
export async function listLine(db: Tx, eventId: string): Promise<LineRow[]> {
  return db.$queryRaw<LineRow[]>`
    SELECT t.id AS "ticketId", t.entry_id AS "entryId", t.inspection_id AS "inspectionId", e.car_number AS "carNumber",
           g.id AS "runGroupId", g.name AS "runGroup", v.record AS vehicle, i.verdict, t.queued_at AS "queuedAt",
           g.first_session_at AS "firstSessionAt", k.id AS "claimId", k.inspector_name AS "inspectorName",
           k.expires_at AS "expiresAt", i.rule_set_id AS "ruleSetId", i.rule_set_version AS "ruleSetVersion",
           i.resolved_hash AS "resolvedHash", lt.at AS "toldAt", lt.lane, t.not_here_at AS "notHereAt",
           COALESCE((SELECT jsonb_agg(${CONCESSION_JSON} ORDER BY c.id) FROM concessions c WHERE c.entry_id = e.id),
             '[]'::jsonb) AS concessions
    FROM tickets t
    JOIN entries e ON e.id = t.entry_id
    JOIN run_groups g ON g.id = e.run_group_id
    JOIN vehicles v ON v.id = e.vehicle_id
    JOIN inspections i ON i.id = t.inspection_id
    LEFT JOIN claims k ON k.ticket_id = t.id AND k.ended_at IS NULL AND k.expires_at > now()
    LEFT JOIN line_times lt ON lt.entry_id = t.entry_id
    WHERE t.event_id = ${eventId}::uuid AND t.state IN ('waiting', 'claimed')
    ORDER BY ${LINE_ORDER}`;
}

/** How long the last inspections of the event took from claim to sign-off, minutes, newest first, at most 20. */
export async function listServiceMinutes(db: Tx, eventId: string): Promise<number[]> {
  const rows = await db.$queryRaw<{ minutes: number }[]>`
    SELECT extract(epoch FROM s.signed_at - k.claimed_at)::float8 / 60 AS minutes
    FROM sign_offs s JOIN claims k ON k.id = s.claim_id
    WHERE s.event_id = ${eventId}::uuid ORDER BY s.id DESC LIMIT 20`;
  return rows.map((row) => Math.max(0, row.minutes));
}

export async function eventExists(db: Tx, eventId: string): Promise<boolean> {
  return (await db.event.count({ where: { id: eventId } })) > 0;
}

export interface FreeTicket {
  ticketId: string;
  entryId: string;
  inspectionId: string;
}

const FREE_TICKET = Prisma.sql`t.id AS "ticketId", t.entry_id AS "entryId", t.inspection_id AS "inspectionId"`;
const FREE = Prisma.sql`(t.state = 'waiting' OR (t.state = 'claimed' AND NOT EXISTS (
  SELECT 1 FROM claims k WHERE k.ticket_id = t.id AND k.ended_at IS NULL AND k.expires_at > now())))`;

/**
 * Locks the next free ticket whose car the actor has no interest in as far as SQL can tell (`mayConcernOthersOnly`), but
 * none of the entries that are `passed` over. With `skipLocked`, tickets that others are just
 * taking are passed over, so that inspectors never wait for each other.
 */
export async function lockNextTicket(
  tx: Tx,
  eventId: string,
  actor: Actor,
  { skipLocked, passed }: { skipLocked: boolean; passed: readonly string[] },
): Promise<(FreeTicket & { concerned: Concerned }) | undefined> {
  const rows = await tx.$queryRaw<(FreeTicket & { concerned: Concerned })[]>`
    SELECT ${FREE_TICKET}, ${CONCERNED} AS concerned
    FROM tickets t
    JOIN clearances c ON c.entry_id = t.entry_id
    JOIN entries e ON e.id = t.entry_id
    JOIN run_groups g ON g.id = e.run_group_id
    WHERE t.event_id = ${eventId}::uuid AND t.state IN ('waiting', 'claimed') AND ${FREE}
      AND ${mayConcernOthersOnly(actor)} AND NOT (t.entry_id = ANY (${[...passed]}::uuid[]))
    ORDER BY ${LINE_ORDER} LIMIT 1
    FOR UPDATE OF c, t ${skipLocked ? Prisma.sql`SKIP LOCKED` : Prisma.empty}`;
  return rows[0];
}

/** The live tickets of a car number, in the order of their turn. */
export async function listTicketsOfNumber(
  tx: Tx,
  where: { eventId: string; carNumber: string; runGroupId?: string | undefined },
): Promise<FreeTicket[]> {
  const group =
    where.runGroupId === undefined ? Prisma.empty : Prisma.sql`AND e.run_group_id = ${where.runGroupId}::uuid`;
  return tx.$queryRaw<FreeTicket[]>`
    SELECT ${FREE_TICKET}
    FROM tickets t JOIN entries e ON e.id = t.entry_id JOIN run_groups g ON g.id = e.run_group_id
    WHERE t.event_id = ${where.eventId}::uuid AND e.car_number = ${where.carNumber} ${group}
      AND t.state IN ('waiting', 'claimed')
    ORDER BY ${LINE_ORDER}`;
}

/** Entries under a number at an event, with what their clearance is folded to. */
export async function listEntriesOfNumber(
  tx: Tx,
  where: { eventId: string; carNumber: string; runGroupId?: string | undefined },
): Promise<string[]> {
  const { eventId, carNumber, runGroupId } = where;
  const rows = await tx.entry.findMany({
    where: { eventId, carNumber, ...(runGroupId === undefined ? {} : { runGroupId }) },
    select: { id: true },
  });
  return rows.map((row) => row.id);
}

export interface Lease {
  claimId: string;
  ticketId: string;
  inspectorId: string;
  inspectorName: string;
  leaseSeconds: number;
  expiresAt: Date;
}

/** Ends the claim on a ticket if its lease has run out by the database clock; returns the claim that was ended. */
export async function endExpiredClaim(tx: Tx, ticketId: string): Promise<string | undefined> {
  const rows = await tx.$queryRaw<{ id: string }[]>`
    UPDATE claims SET ended_at = now(), end_reason = 'expired'
    WHERE ticket_id = ${ticketId}::uuid AND ended_at IS NULL AND expires_at <= now() RETURNING id`;
  return rows[0]?.id;
}

/** Gives the lease on a ticket; undefined when somebody holds a running one: at most one claim is open per ticket. */
export async function insertClaim(
  tx: Tx,
  claim: { ticketId: string; actor: Actor; leaseSeconds: number },
): Promise<Lease | undefined> {
  const { ticketId, actor, leaseSeconds } = claim;
  const rows = await tx.$queryRaw<{ claimId: string; expiresAt: Date }[]>`
    INSERT INTO claims (id, ticket_id, inspector_id, inspector_name, lease_seconds, expires_at)
    VALUES (${uuidV7()}::uuid, ${ticketId}::uuid, ${actor.tokenId}::uuid, ${actor.name}, ${leaseSeconds},
            now() + make_interval(secs => ${leaseSeconds}))
    ON CONFLICT DO NOTHING RETURNING id AS "claimId", expires_at AS "expiresAt"`;
  const row = rows[0];
  if (row === undefined) return undefined;
  await tx.ticket.update({ where: { id: ticketId }, data: { state: 'claimed', notHereAt: null } });
  const lease = { ticketId, inspectorId: actor.tokenId, inspectorName: actor.name, leaseSeconds };
  return { ...row, ...lease };
}

export interface ClaimState extends Lease {
  entryId: string;
  eventId: string;
  inspectionId: string;
  endReason: string | null;
  /** by the database clock */
  expired: boolean;
  /** null: nothing was chosen yet */
  looks: ChosenLook[] | null;
}

/** A claim as it stands; in a transaction that has locked the entry, nobody changes it any more. */
export async function findClaim(db: Tx, claimId: string): Promise<ClaimState | undefined> {
  const rows = await db.$queryRaw<ClaimState[]>`
    SELECT k.id AS "claimId", k.ticket_id AS "ticketId", k.inspector_id AS "inspectorId",
           k.inspector_name AS "inspectorName", k.lease_seconds AS "leaseSeconds", k.expires_at AS "expiresAt",
           k.end_reason AS "endReason", k.expires_at <= now() AS expired, t.entry_id AS "entryId",
           t.event_id AS "eventId", t.inspection_id AS "inspectionId", k.looks
    FROM claims k JOIN tickets t ON t.id = k.ticket_id WHERE k.id = ${claimId}::uuid`;
  return rows[0];
}

/** The claim that is open on a ticket, run out or not. */
export async function findOpenClaim(db: Tx, ticketId: string): Promise<ClaimState | undefined> {
  const row = await db.claim.findFirst({ where: { ticketId, endedAt: null }, select: { id: true } });
  return row === null ? undefined : findClaim(db, row.id);
}

/** Notes that a car was called and not there, by the clock of the database as the order of the line is. */
export async function markNotHere(tx: Tx, ticketId: string): Promise<void> {
  await tx.$executeRaw`UPDATE tickets SET not_here_at = now() WHERE id = ${ticketId}::uuid`;
}

/** Starts the lease anew if the claim is open; returns the new end, undefined when it is not. */
export async function extendClaim(tx: Tx, claimId: string): Promise<Date | undefined> {
  const rows = await tx.$queryRaw<{ expiresAt: Date }[]>`
    UPDATE claims SET expires_at = now() + make_interval(secs => lease_seconds)
    WHERE id = ${claimId}::uuid AND ended_at IS NULL RETURNING expires_at AS "expiresAt"`;
  return rows[0]?.expiresAt;
}

/** The instruments of an event, as its organizer set them. */
export async function listInstruments(db: Tx, eventId: string): Promise<NamedInstrument[]> {
  const row = await db.event.findUnique({ where: { id: eventId }, select: { instruments: true } });
  // written from parsed ones only
  return (row?.instruments ?? []) as unknown as NamedInstrument[];
}

/** The entry a condition belongs to. */
export async function findConditionEntry(db: Tx, conditionId: string): Promise<string | undefined> {
  const row = await db.condition.findUnique({ where: { id: conditionId }, select: { entryId: true } });
  return row?.entryId;
}

/** Marks an open condition as done; returns whether it was open. */
export async function updateDone(
  tx: Tx,
  done: { conditionId: string; note: string | undefined; actor: Actor; at: Date },
): Promise<boolean> {
  const { count } = await tx.condition.updateMany({
    where: { id: done.conditionId, doneAt: null },
    data: { doneAt: done.at, doneBy: done.actor.tokenId, doneName: done.actor.name, doneNote: done.note ?? null },
  });
  return count === 1;
}
