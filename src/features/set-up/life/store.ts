import type { Actor } from '../../../domain/actor.ts';
import type { Tx } from '../../../platform/database/db.ts';
import { Prisma } from '../../../platform/prisma-client/client.ts';

export async function markCancelled(
  tx: Tx,
  eventId: string,
  { actor, at, reason }: { actor: Actor; at: Date; reason: string },
): Promise<void> {
  const data = { cancelledAt: at, cancelledBy: actor.tokenId, cancelledName: actor.name, cancelReason: reason };
  await tx.event.update({ where: { id: eventId }, data: { ...data, rev: { increment: 1 } } });
}

/** The version that a new group is judged by: the one asked for, or the newest that stands where it was retired. */
export async function findVersionToUse(db: Tx, ruleSetId: string, version: number): Promise<number> {
  const standing = await db.ruleSetVersion.findMany({
    where: { ruleSetId, retirement: null },
    select: { version: true },
    orderBy: { version: 'desc' },
  });
  if (standing.some((one) => one.version === version)) return version;
  return standing[0]?.version ?? version;
}

/** Locks the cars of an event, its entries, and then the event against everything that refers to it. */
export async function lockWholeEvent(tx: Tx, eventId: string): Promise<void> {
  await tx.$queryRaw`SELECT id FROM car_clearances WHERE event_id = ${eventId}::uuid ORDER BY id FOR UPDATE`;
  await tx.$queryRaw`SELECT entry_id FROM clearances WHERE event_id = ${eventId}::uuid ORDER BY entry_id FOR UPDATE`;
  await tx.$queryRaw`SELECT id FROM events WHERE id = ${eventId}::uuid FOR UPDATE`;
}

export async function countSubmissions(tx: Tx, eventId: string): Promise<number> {
  return tx.inspection.count({ where: { entry: { eventId } } });
}

/** The root of an event's history as far as it is sealed. */
export async function treeOf(tx: Tx, eventId: string): Promise<{ size?: number; root?: string }> {
  const tree = await tx.eventTree.findUnique({ where: { eventId }, select: { size: true, root: true } });
  return tree === null ? {} : { size: tree.size, root: Buffer.from(tree.root).toString('hex') };
}

const OF_EVENT = Prisma.sql`SELECT id FROM entries WHERE event_id = `;

/**
 * The tables that have rows of an event, in the order in which they can go, each with how its rows are found. Those that
 * need a submission (inspections, tickets, claims, sign-offs, conditions) have none; a test holds this list against the
 * foreign keys of the database.
 */
export const GOES_WITH_EVENT: readonly (readonly [table: string, by: 'event' | 'entry' | 'cascade'])[] = [
  ['unsealed_history', 'event'],
  ['event_leaves', 'event'],
  ['event_heads', 'event'],
  ['event_trees', 'event'],
  ['event_chains', 'event'],
  ['history', 'event'],
  ['session_log', 'entry'],
  ['holds', 'entry'],
  ['concessions', 'entry'],
  ['photos', 'entry'],
  ['shop_signatures', 'entry'],
  ['shop_links', 'entry'],
  ['drafts', 'entry'],
  ['notifications', 'entry'],
  ['mails', 'event'],
  ['mail_stops', 'entry'],
  ['mail_unsaid', 'entry'],
  ['mail_templates', 'event'],
  ['gate_checks', 'event'],
  ['webhooks', 'event'],
  ['token_events', 'event'],
  ['tokens', 'entry'],
  ['clearances', 'event'],
  ['car_clearances', 'event'],
  ['entries', 'event'],
  ['run_groups', 'event'],
  ['line_times', 'cascade'],
  ['line_plans', 'cascade'],
  ['set_up_skips', 'cascade'],
];

/**
 * Deletes an event with everything of it. The database refuses once anything was submitted.
 *
 * @returns how many rows of what people made are gone
 */
export async function wipeEvent(tx: Tx, eventId: string, at: Date): Promise<Readonly<Record<string, number>>> {
  await tx.$executeRaw`SELECT set_config('gridworthy.deleted_event', ${eventId}, true)`;
  await endAccess(tx, eventId, at);
  await deleteTasks(tx, eventId);
  const counts: Record<string, number> = {};
  for (const [table, by] of GOES_WITH_EVENT) {
    if (by === 'cascade') continue;
    const where =
      by === 'event' ? Prisma.sql`event_id = ${eventId}::uuid` : Prisma.sql`entry_id IN (${OF_EVENT}${eventId}::uuid)`;
    counts[table] = await tx.$executeRaw`DELETE FROM ${Prisma.raw(`"${table}"`)} WHERE ${where}`;
  }
  await tx.$executeRaw`DELETE FROM events WHERE id = ${eventId}::uuid`;
  const { entries = 0, run_groups: runGroups = 0, drafts = 0, history = 0 } = counts;
  return { entries, runGroups, drafts, history };
}

/**
 * Access of the staff that was for this event alone ends: without its event a token would count as one from before events
 * were named, which works everywhere. So do links of entrants and codes that were not used.
 */
async function endAccess(tx: Tx, eventId: string, at: Date): Promise<void> {
  await tx.$executeRaw`
    UPDATE tokens t SET revoked_at = ${at} WHERE t.revoked_at IS NULL AND (
      t.entry_id IN (SELECT id FROM entries WHERE event_id = ${eventId}::uuid)
      OR (EXISTS (SELECT FROM token_events e WHERE e.token_id = t.id AND e.event_id = ${eventId}::uuid)
        AND NOT EXISTS (SELECT FROM token_events e WHERE e.token_id = t.id AND e.event_id <> ${eventId}::uuid)))`;
  await tx.$executeRaw`DELETE FROM enrolments WHERE ${eventId}::uuid = ANY (event_ids) AND used_at IS NULL`;
}

/** Imports, which hold names, and what else was worked out for the event or its groups. */
async function deleteTasks(tx: Tx, eventId: string): Promise<void> {
  const groups = await tx.runGroup.findMany({ where: { eventId }, select: { id: true } });
  const where = { subjectId: { in: [eventId, ...groups.map(({ id }) => id)] } };
  await tx.taskItem.deleteMany({ where: { task: where } });
  await tx.task.deleteMany({ where });
}

export async function listGroupNumbers(tx: Tx, runGroupId: string): Promise<string[]> {
  const rows = await tx.entry.findMany({
    where: { runGroupId },
    select: { carNumber: true },
    orderBy: { carNumber: 'asc' },
  });
  return rows.map(({ carNumber }) => carNumber);
}

export async function deleteRunGroup(tx: Tx, runGroupId: string): Promise<void> {
  await tx.runGroup.delete({ where: { id: runGroupId } });
}

export async function deleteVenue(tx: Tx, venueId: string): Promise<void> {
  await tx.venueOverlay.deleteMany({ where: { venueId } });
  await tx.venue.delete({ where: { id: venueId } });
}

export async function insertDeletion(
  tx: Tx,
  of: { kind: 'event' | 'run-group' | 'venue'; subjectId: string; name: string; what: object; actor: Actor; at: Date },
): Promise<void> {
  const { kind, subjectId, name, what, actor, at } = of;
  const deleted = { deletedBy: actor.tokenId, deletedName: actor.name, deletedAt: at };
  await tx.deletion.create({ data: { kind, subjectId, name, what, ...deleted } });
}
