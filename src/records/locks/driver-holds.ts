import { Prisma } from '../../platform/prisma-client/client.ts';
import type { Actor } from '../../domain/actor.ts';
import type { Tx } from '../../platform/database/db.ts';
import { type EntryHead, recordEntryHistory } from '../history/history.ts';

/**
 * Keeps holds about these people at an event as they are while entries come to name them (`share`), or keeps entries from
 * coming to name them while a hold is placed or lifted. Taken before the locks of cars and entries.
 */
export async function lockPeople(
  tx: Tx,
  eventId: string,
  personIds: readonly string[],
  mode: 'share' | 'change',
): Promise<void> {
  for (const personId of [...new Set(personIds)].sort()) {
    const key = `person/${eventId}/${personId}`;
    if (mode === 'share') await tx.$executeRaw`SELECT pg_advisory_xact_lock_shared(hashtextextended(${key}, 0))`;
    else await tx.$executeRaw`SELECT pg_advisory_xact_lock(hashtextextended(${key}, 0))`;
  }
}

/** Entries of an event that name a person by id and are still in it, in the order of locks. */
export async function listEntriesOfPerson(tx: Tx, eventId: string, personId: string): Promise<string[]> {
  const rows = await tx.$queryRaw<{ id: string }[]>`
    SELECT e.id FROM entries e JOIN clearances c ON c.entry_id = e.id
    WHERE e.event_id = ${eventId}::uuid AND ${personId} = ANY (e.person_ids) AND NOT (c.facts->>'withdrawn')::boolean
    ORDER BY e.id`;
  return rows.map(({ id }) => id);
}

// Entry by entry, which the limit of nothing keeps so: a hold does not know its event, and a join would read those of all.
const DRIVER_HOLDS = Prisma.sql`CROSS JOIN LATERAL (
  SELECT id, reason, person_id FROM holds WHERE entry_id = e.id AND about = 'driver' AND lifted_at IS NULL OFFSET 0) h`;

/** Whether a hold about any driver stands at an event. */
export async function hasDriverHolds(tx: Tx, eventId: string): Promise<boolean> {
  const rows = await tx.$queryRaw<{ found: boolean }[]>`
    SELECT EXISTS (SELECT 1 FROM entries e ${DRIVER_HOLDS} WHERE e.event_id = ${eventId}::uuid) AS found`;
  return rows[0]?.found === true;
}

/**
 * Brings the holds about drivers on a locked entry in line with the people it names now: those of a person who came are
 * placed, those of a person who went end here. `lockPeople` comes before.
 */
export async function followPeople(
  tx: Tx,
  entry: EntryHead,
  personIds: readonly string[],
  why: { actor: Actor; at: Date; requestId: string | undefined },
): Promise<void> {
  const standing = await tx.$queryRaw<{ id: string; reason: string }[]>`
    SELECT h.id, h.reason FROM entries e ${DRIVER_HOLDS}
    WHERE e.event_id = ${entry.eventId}::uuid AND h.person_id = ANY (${[...personIds]})
    ORDER BY h.id`;
  const here = entry.facts.holds.filter(({ driver }) => driver === true);
  for (const { id: holdId, reason } of standing) {
    if (here.some((hold) => hold.holdId === holdId)) continue;
    const event = { type: 'held', holdId, reason, driver: true } as const;
    await recordEntryHistory(tx, entry, { ...why, action: 'hold.followed', happening: event });
  }
  for (const { holdId } of here) {
    if (standing.some(({ id }) => id === holdId)) continue;
    const event = { type: 'lifted', holdId, requiresReinspection: false } as const;
    await recordEntryHistory(tx, entry, { ...why, action: 'hold.left', happening: event });
  }
}
