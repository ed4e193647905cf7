import type { Actor } from '../../domain/actor.ts';
import type { Tx } from '../../platform/database/db.ts';

/** What a server has before it has an event. */
export interface Ground {
  venues: number;
  events: number;
  publishedSets: number;
}

export async function readGround(db: Tx): Promise<Ground> {
  const [row] = await db.$queryRaw<Ground[]>`
    SELECT (SELECT count(*)::int FROM venues) AS venues, (SELECT count(*)::int FROM events) AS events,
      (SELECT count(DISTINCT v.rule_set_id)::int FROM rule_set_versions v
        WHERE NOT EXISTS (SELECT FROM rule_set_retirements r
          WHERE r.rule_set_id = v.rule_set_id AND r.version = v.version)) AS "publishedSets"`;
  return row ?? { venues: 0, events: 0, publishedSets: 0 };
}

/** What an event has by now. */
export interface EventSetUp {
  venue: { brakingZones?: readonly unknown[]; topSpeedKmh?: number };
  closesAt: Date;
  /** start of the day after its last, at the venue */
  until: Date;
  cancelled: boolean;
  groups: number;
  groupsOffDay: number;
  chiefs: number;
  inspectors: number;
  marshals: number;
  /** that were not withdrawn, and those of them whose entrant has a link */
  entries: number;
  linked: number;
  skips: readonly string[];
}

/**
 * Undefined when there is no such event. People are tokens for this event that work at `now`, and codes that can still be
 * used.
 */
export async function findEventSetUp(db: Tx, eventId: string, now: Date): Promise<EventSetUp | undefined> {
  const rows = await db.$queryRaw<EventSetUp[]>`
    WITH people AS (
      SELECT t.role FROM token_events te JOIN tokens t ON t.id = te.token_id
      WHERE te.event_id = ${eventId}::uuid AND t.revoked_at IS NULL AND (t.expires_at IS NULL OR t.expires_at > ${now})
      UNION ALL
      SELECT n.role FROM enrolments n
      WHERE ${eventId}::uuid = ANY (n.event_ids) AND n.used_at IS NULL AND n.expires_at > ${now}
    ), standing AS (
      SELECT e.id, l.linked
      FROM entries e JOIN clearances c ON c.entry_id = e.id
      LEFT JOIN LATERAL (
        SELECT true AS linked FROM tokens t WHERE t.entry_id = e.id AND t.revoked_at IS NULL
          AND (t.expires_at IS NULL OR t.expires_at > ${now}) LIMIT 1
      ) l ON true
      WHERE e.event_id = ${eventId}::uuid AND (c.facts->>'withdrawn')::boolean IS NOT TRUE
    )
    SELECT ve.details AS venue, ev.declarations_close_at AS "closesAt", ev.cancelled_at IS NOT NULL AS cancelled,
      (ev.ends_on + 1)::timestamp AT TIME ZONE ve.time_zone AS until,
      (SELECT count(*)::int FROM run_groups g WHERE g.event_id = ev.id) AS groups,
      (SELECT count(*)::int FROM run_groups g WHERE g.event_id = ev.id
        AND NOT (g.first_session_at AT TIME ZONE ve.time_zone)::date BETWEEN ev.starts_on AND ev.ends_on) AS "groupsOffDay",
      (SELECT count(*)::int FROM people WHERE role = 'chief') AS chiefs,
      (SELECT count(*)::int FROM people WHERE role = 'inspector') AS inspectors,
      (SELECT count(*)::int FROM people WHERE role = 'marshal') AS marshals,
      (SELECT count(*)::int FROM standing) AS entries,
      (SELECT count(*)::int FROM standing WHERE linked) AS linked,
      (SELECT coalesce(array_agg(s.step), '{}') FROM set_up_skips s WHERE s.event_id = ev.id) AS skips
    FROM events ev JOIN venues ve ON ve.id = ev.venue_id WHERE ev.id = ${eventId}::uuid`;
  return rows[0];
}

/** Leaves a step out, or has it count again. False when there is no such event. */
export async function setSkip(
  db: Tx,
  { eventId, step, skipped }: { eventId: string; step: string; skipped: boolean },
  { actor, at }: { actor: Actor; at: Date },
): Promise<boolean> {
  if ((await db.event.count({ where: { id: eventId } })) === 0) return false;
  if (!skipped) {
    await db.setUpSkip.deleteMany({ where: { eventId, step } });
    return true;
  }
  const by = { skippedBy: actor.tokenId, skippedName: actor.name, skippedAt: at };
  await db.setUpSkip.upsert({
    where: { eventId_step: { eventId, step } },
    create: { eventId, step, ...by },
    update: {},
  });
  return true;
}
