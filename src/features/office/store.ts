import type { Actor } from '../../domain/actor.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { EntryState } from '../../domain/line/readiness.ts';
import type { Concession } from '../../domain/clearance/concession.ts';
import {
  CONCESSION_JSON,
  STATE_COLUMNS_SQL,
  STATE_JOINS_SQL,
  type StateRow,
  toClearanceState,
} from '../../records/what-stands.ts';

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

/** An entry with the concessions that were ever granted to it. */
export interface ReadyEntry extends EntryState {
  concessions: readonly Concession[];
}

interface EntryRow extends StateRow {
  entryId: string;
  carNumber: string;
  runGroupId: string;
  onLine: boolean;
  concessions: Concession[] | null;
}

/** Every entry of an event, by car number. */
export async function listReadyEntries(db: Tx, eventId: string): Promise<ReadyEntry[]> {
  const rows = await db.$queryRaw<EntryRow[]>`
    SELECT c.entry_id AS "entryId", c.car_number AS "carNumber", e.run_group_id AS "runGroupId", ${STATE_COLUMNS_SQL},
           t.id IS NOT NULL AS "onLine",
           (SELECT jsonb_agg(${CONCESSION_JSON} ORDER BY c.id) FROM concessions c WHERE c.entry_id = e.id) AS concessions
    FROM clearances c
    JOIN entries e ON e.id = c.entry_id
    JOIN run_groups g ON g.id = e.run_group_id ${STATE_JOINS_SQL}
    LEFT JOIN tickets t ON t.event_id = c.event_id AND t.entry_id = c.entry_id AND t.state IN ('waiting', 'claimed')
    -- the event at each table, so that each is read by its own index on it
    WHERE c.event_id = ${eventId}::uuid AND e.event_id = ${eventId}::uuid AND k.event_id = ${eventId}::uuid
    ORDER BY c.car_number, c.entry_id`;
  return rows.map((row) => ({
    entryId: row.entryId,
    carNumber: row.carNumber,
    runGroupId: row.runGroupId,
    facts: row.facts,
    state: toClearanceState(row),
    onLine: row.onLine,
    concessions: row.concessions ?? [],
  }));
}

interface Contact {
  entryId: string;
  name: string;
  phone: string | null;
  email: string | null;
}

/** Who enters some cars, and how to reach them. */
export async function listContacts(db: Tx, entryIds: readonly string[]): Promise<Contact[]> {
  return db.$queryRaw<Contact[]>`
    SELECT id AS "entryId", entrant->>'name' AS name, entrant->>'phone' AS phone, entrant->>'email' AS email
    FROM entries WHERE id = ANY (${[...entryIds]}::uuid[])`;
}

/** What a rule found, in cars; a car counts once, under the worst thing the rule does to it. */
export interface FoundRule {
  ruleId: string;
  title: string;
  cars: number;
  bars: number;
  inspects: number;
  advises: number;
}

/** What a rule on watch found, in cars; it judges nobody. */
export interface WatchedRule {
  ruleId: string;
  title: string;
  judged: number;
  notMet: number;
  unanswerable: number;
}

/** A run group with the rules that judge it. */
export interface GroupState {
  runGroupId: string;
  name: string;
  firstSessionAt: string;
  ruleSetId: string;
  ruleSetVersion: number;
  resolvedHash: string | null;
}

/** An event with what its entries and its line have in common. */
export interface EventState {
  opensAt: Date;
  closesAt: Date;
  groups: GroupState[];
  /** people who held a claim within the last 15 minutes, by the clock of the database */
  inspectors: number;
  /** minutes from claim to sign-off, newest first, at most 200 */
  serviceMinutes: number[];
  findings: FoundRule[];
  watched: WatchedRule[];
}

interface EventRow {
  opensAt: Date;
  closesAt: Date;
  groups: EventState['groups'];
  inspectors: number;
  service: number[];
  findings: FoundRule[];
  watched: WatchedRule[];
}

/**
 * Undefined when there is no such event. Findings are those of the newest revision of each entry that was not
 * withdrawn; what is met stays in the database.
 */
export async function findEventState(db: Tx, eventId: string): Promise<EventState | undefined> {
  const rows = await db.$queryRaw<EventRow[]>`
    WITH newest AS MATERIALIZED (
      SELECT i.id FROM clearances c CROSS JOIN LATERAL (
        SELECT id FROM inspections WHERE entry_id = c.entry_id ORDER BY revision DESC LIMIT 1
      ) i
      WHERE c.event_id = ${eventId}::uuid AND (c.facts->>'withdrawn')::boolean IS NOT TRUE
    ), per_car AS MATERIALIZED (
      SELECT i.entry_id, f->>'ruleId' AS rule_id, min(f->>'title') AS title, bool_or(f ? 'watched') AS is_watched,
             bool_or(f->>'counts' = 'bar') AS bars, bool_or(f->>'counts' = 'inspect') AS inspects,
             bool_or(f->>'result' = 'not-met') AS not_met, bool_or(f->>'result' = 'unanswerable') AS unanswerable
      FROM newest JOIN inspections i ON i.id = newest.id
      CROSS JOIN LATERAL jsonb_path_query(i.findings, '$[*] ? (@.result != "met" || @.watched == true)') AS f
      GROUP BY i.entry_id, rule_id
    ), found AS (
      SELECT rule_id AS "ruleId", min(title) AS title, count(*) AS cars, count(*) FILTER (WHERE bars) AS bars,
             count(*) FILTER (WHERE inspects AND NOT bars) AS inspects,
             count(*) FILTER (WHERE NOT inspects AND NOT bars) AS advises
      FROM per_car WHERE NOT is_watched GROUP BY rule_id ORDER BY count(*) DESC, rule_id LIMIT 20
    ), on_watch AS (
      SELECT rule_id AS "ruleId", min(title) AS title, count(*) AS judged, count(*) FILTER (WHERE not_met) AS "notMet",
             count(*) FILTER (WHERE unanswerable AND NOT not_met) AS unanswerable
      FROM per_car WHERE is_watched GROUP BY rule_id ORDER BY count(*) FILTER (WHERE not_met) DESC, rule_id
    ), claimed AS (
      SELECT k.id, k.inspector_id, k.claimed_at, COALESCE(k.ended_at, k.expires_at) AS ended
      FROM tickets t CROSS JOIN LATERAL (SELECT * FROM claims WHERE ticket_id = t.id OFFSET 0) k
      WHERE t.event_id = ${eventId}::uuid
    ), service AS (
      SELECT extract(epoch FROM s.signed_at - k.claimed_at)::float8 / 60 AS minutes
      FROM sign_offs s JOIN claimed k ON k.id = s.claim_id
      WHERE s.event_id = ${eventId}::uuid AND s.signed_at > k.claimed_at ORDER BY s.id DESC LIMIT 200
    )
    SELECT ev.declarations_open_at AS "opensAt", ev.declarations_close_at AS "closesAt",
           (SELECT COALESCE(jsonb_agg(jsonb_build_object('runGroupId', g.id, 'name', g.name, 'firstSessionAt',
              to_char(g.first_session_at AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"'), 'ruleSetId', g.rule_set_id, 'ruleSetVersion', g.rule_set_version,
              'resolvedHash', g.resolved_hash) ORDER BY g.sort_order, g.id), '[]')
            FROM run_groups g WHERE g.event_id = ev.id) AS groups,
           (SELECT count(DISTINCT inspector_id)::int FROM claimed
            WHERE claimed_at <= now() AND ended > now() - interval '15 minutes') AS inspectors,
           (SELECT COALESCE(jsonb_agg(minutes), '[]') FROM service) AS service,
           (SELECT COALESCE(jsonb_agg(to_jsonb(found)), '[]') FROM found) AS findings,
           (SELECT COALESCE(jsonb_agg(to_jsonb(on_watch)), '[]') FROM on_watch) AS watched
    FROM events ev WHERE ev.id = ${eventId}::uuid`;
  const row = rows[0];
  if (row === undefined) return undefined;
  const { opensAt, closesAt, service: serviceMinutes, ...rest } = row;
  return { opensAt, closesAt, serviceMinutes, ...rest };
}
