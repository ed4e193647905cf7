import { v7 as uuidV7 } from 'uuid';
import { ProblemError } from '../http/frame/problem.ts';
import type { Actor } from '../domain/actor.ts';
import { barStands } from '../domain/clearance/clearance.ts';
import type { Tx } from '../platform/database/db.ts';
import { Prisma } from '../platform/prisma-client/client.ts';
import { type LockedEntry, lockEntries } from './locks/entry-lock.ts';
import { recordEntryHistory } from './history/history.ts';

/**
 * Puts a locked entry on the line with the given inspection. Its place follows from its run group's first session and
 * from `queuedAt`; a live ticket it may still have must be closed before (`closeTicket`).
 */
export async function openTicket(
  tx: Tx,
  entry: LockedEntry,
  ticket: { inspectionId: string; queuedAt: Date },
): Promise<string> {
  const id = uuidV7();
  const { inspectionId, queuedAt } = ticket;
  await tx.ticket.create({ data: { id, eventId: entry.eventId, entryId: entry.entryId, inspectionId, queuedAt } });
  return id;
}

/** Takes a locked entry off the line and ends the claim on it, if it is there. Returns whether it was. */
export async function closeTicket(tx: Tx, entry: LockedEntry, state: 'done' | 'void', at: Date): Promise<boolean> {
  const claimEnd = state === 'done' ? 'signed-off' : 'void';
  const closed = await tx.$executeRaw`
    WITH ticket AS (
      UPDATE tickets SET state = ${state}, closed_at = ${at}
      WHERE entry_id = ${entry.entryId}::uuid AND state IN ('waiting', 'claimed')
      RETURNING id
    ), claim AS (
      UPDATE claims SET ended_at = ${at}, end_reason = ${claimEnd}
      WHERE ticket_id IN (SELECT id FROM ticket) AND ended_at IS NULL
    ), told AS (
      DELETE FROM line_times WHERE ${state} = 'done' AND entry_id = ${entry.entryId}::uuid
    )
    SELECT id FROM ticket`;
  return closed > 0;
}

/** `closeTicket` as parts of one write; `closed` is read by what may come only after it. */
export function closeTicketParts(
  entryId: string,
  state: 'done' | 'void',
  at: Date,
): Record<'closed' | 'ended', Prisma.Sql> & { told?: Prisma.Sql } {
  const claimEnd = state === 'done' ? 'signed-off' : 'void';
  return {
    closed: Prisma.sql`UPDATE tickets SET state = ${state}, closed_at = ${at}::timestamptz
      WHERE entry_id = ${entryId}::uuid AND state IN ('waiting', 'claimed') RETURNING id`,
    ended: Prisma.sql`UPDATE claims SET ended_at = ${at}::timestamptz, end_reason = ${claimEnd}
      WHERE ticket_id IN (SELECT id FROM closed) AND ended_at IS NULL`,
    ...(state === 'done' ? { told: Prisma.sql`DELETE FROM line_times WHERE entry_id = ${entryId}::uuid` } : {}),
  };
}

/** `openTicket` as a part of one write, after the part `closed` of `closeTicketParts`. */
export function openTicketPart(
  entry: Pick<LockedEntry, 'entryId' | 'eventId'>,
  ticket: { ticketId: string; inspectionId: string; queuedAt: Date },
): Prisma.Sql {
  return Prisma.sql`INSERT INTO tickets (id, event_id, entry_id, inspection_id, queued_at)
    SELECT ${ticket.ticketId}::uuid, ${entry.eventId}::uuid, ${entry.entryId}::uuid, ${ticket.inspectionId}::uuid,
           ${ticket.queuedAt}::timestamptz
    FROM (SELECT count(*) FROM closed) AS before`;
}

/** The ticket with which a locked entry stands on the line, if it does. */
export async function findLiveTicket(tx: Tx, entryId: string): Promise<{ ticketId: string } | undefined> {
  const row = await tx.ticket.findFirst({
    where: { entryId, state: { in: ['waiting', 'claimed'] } },
    select: { id: true },
  });
  return row === null ? undefined : { ticketId: row.id };
}

/** For so long a car that was called and not there stands behind all others. Common practice, no source. */
const NOT_HERE = Prisma.sql`interval '10 minutes'`;

/** When a car is told to be at the line; who has no time goes by the first session of his group. */
const turnOf = (entry: Prisma.Sql, group: Prisma.Sql): Prisma.Sql =>
  Prisma.sql`COALESCE((SELECT lt.at FROM line_times lt WHERE lt.entry_id = ${entry}), ${group})`;

/**
 * The order of the line: the told time, else the run group's first session, then the time of submission, then the ticket's own
 * age; cars that were just called and not there come last.
 */
export const LINE_ORDER = Prisma.sql`COALESCE(t.not_here_at > now() - ${NOT_HERE}, false),
  ${turnOf(Prisma.sql`t.entry_id`, Prisma.sql`g.first_session_at`)}, t.queued_at, t.id`;

/**
 * The place that a new ticket of entry `e` in run group `g` comes to, 1 being next; one it may still have goes. In a statement
 * that reads.
 */
export const placeOfNew = (ticketId: string, queuedAt: Prisma.Sql): Prisma.Sql => Prisma.sql`
  (SELECT count(*)::int + 1 FROM tickets t JOIN entries te ON te.id = t.entry_id JOIN run_groups tg ON tg.id = te.run_group_id
   WHERE t.event_id = e.event_id AND t.state IN ('waiting', 'claimed') AND t.entry_id <> e.id
     AND (${turnOf(Prisma.sql`t.entry_id`, Prisma.sql`tg.first_session_at`)}, t.queued_at, t.id)
       < (${turnOf(Prisma.sql`e.id`, Prisma.sql`g.first_session_at`)}, ${queuedAt}, ${ticketId}::uuid))`;

/** A place on the line, 1 being next, with the time that the car was told. */
export interface Place {
  ticketId: string;
  place: number;
  told?: ToldAt;
}

/** When a car is told to be at the line, and in which lane where several are open. */
export interface ToldAt {
  at: string;
  lane?: number;
}

export function toldAt(at: Date, lane: number | null): ToldAt;
export function toldAt(at: Date | null, lane: number | null): ToldAt | undefined;
export function toldAt(at: Date | null, lane: number | null): ToldAt | undefined {
  return at === null ? undefined : { at: at.toISOString(), ...(lane === null ? {} : { lane }) };
}

/** Takes back all told times of an event, and its hours of the line: they were for other days. */
export async function forgetLinePlan(tx: Tx, eventId: string): Promise<void> {
  await tx.lineTime.deleteMany({ where: { eventId } });
  await tx.linePlan.deleteMany({ where: { eventId } });
}

/** The live ticket of an inspection with its place on the line; undefined when it is not on the line. */
export async function findPlace(db: Tx, inspectionId: string): Promise<Place | undefined> {
  const rows = await db.$queryRaw<{ ticketId: string; place: bigint; at: Date | null; lane: number | null }[]>`
    SELECT ticket_id AS "ticketId", place, lt.at, lt.lane FROM (
      SELECT t.id AS ticket_id, t.entry_id, t.inspection_id, row_number() OVER (ORDER BY ${LINE_ORDER}) AS place
      FROM tickets t JOIN entries e ON e.id = t.entry_id JOIN run_groups g ON g.id = e.run_group_id
      WHERE t.state IN ('waiting', 'claimed')
        AND t.event_id = (SELECT event_id FROM tickets WHERE inspection_id = ${inspectionId}::uuid LIMIT 1)
    ) AS line LEFT JOIN line_times lt ON lt.entry_id = line.entry_id
    WHERE inspection_id = ${inspectionId}::uuid`;
  const row = rows[0];
  if (row === undefined) return undefined;
  const told = toldAt(row.at, row.lane);
  return { ticketId: row.ticketId, place: Number(row.place), ...(told === undefined ? {} : { told }) };
}

/**
 * Puts a locked entry on the line anew with what was declared last; whatever ticket it had is void. A car that is barred,
 * or was never declared, cannot wait on the line: it gets there by its next submission. Returns the inspection it waits with.
 */
export async function putOnLine(tx: Tx, entry: LockedEntry, now: Date): Promise<string | undefined> {
  const { declared } = entry.facts;
  await closeTicket(tx, entry, 'void', now);
  if (declared === undefined || declared.bars.some((bar) => barStands(bar, now))) return undefined;
  await openTicket(tx, entry, { inspectionId: declared.inspectionId, queuedAt: now });
  return declared.inspectionId;
}

/** Ends an open claim and puts its ticket back in its place; returns whether the claim was open. */
export async function releaseClaim(
  tx: Tx,
  claim: { claimId: string; ticketId: string },
  reason: 'put-back' | 'expired',
): Promise<boolean> {
  const ended = await tx.$executeRaw`
    UPDATE claims SET ended_at = now(), end_reason = ${reason}
    WHERE id = ${claim.claimId}::uuid AND ended_at IS NULL AND (${reason} <> 'expired' OR expires_at <= now())`;
  if (ended === 0) return false;
  await tx.ticket.updateMany({ where: { id: claim.ticketId, state: 'claimed' }, data: { state: 'waiting' } });
  return true;
}

/** Puts back every car that a token holds: whoever had it works here no more. */
export async function releaseClaimsOf(
  tx: Tx,
  tokenId: string,
  why: { actor: Actor; at: Date; requestId: string },
): Promise<void> {
  const claims = await tx.$queryRaw<{ claimId: string; ticketId: string; entryId: string }[]>`
    SELECT k.id AS "claimId", k.ticket_id AS "ticketId", t.entry_id AS "entryId"
    FROM claims k JOIN tickets t ON t.id = k.ticket_id
    WHERE k.inspector_id = ${tokenId}::uuid AND k.ended_at IS NULL ORDER BY t.entry_id`;
  const entries = await lockEntries(
    tx,
    claims.map(({ entryId }) => entryId),
    'entry',
  );
  for (const { claimId, ticketId, entryId } of claims) {
    const entry = entries.find((one) => one.entryId === entryId);
    if (entry === undefined || !(await releaseClaim(tx, { claimId, ticketId }, 'put-back'))) continue;
    const data = { claimId, ticketId, releasedFrom: tokenId, because: 'token-revoked' };
    await recordEntryHistory(tx, entry, { ...why, action: 'ticket.put-back', data });
  }
}

/** The refusal of a claim that is over, where it is known who has the car now. */
export function claimOver({ endReason }: { endReason: string | null }, claimedBy: string | undefined): ProblemError {
  const state = endReason ?? 'expired';
  const taken = claimedBy !== undefined;
  const detail = taken ? `${claimedBy} has the car now.` : 'Renew it if it has just run out, or claim the car again.';
  return new ProblemError('state-moved-on', `This claim is over (${state}). ${detail}`, {
    currentState: state,
    ...(taken ? { claimedBy } : {}),
  });
}
