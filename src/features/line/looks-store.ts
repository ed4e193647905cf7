import type { PlainDate } from '../../domain/calendar.ts';
import type { Timetable } from '../../domain/log/timetable.ts';
import type { Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import type { ChosenLook } from '../../domain/foresight/line-looks.ts';

/** Looks in the same circumstances at events that are over, counted. */
export interface CountedLooks {
  item: string;
  /** of the car, as it was described */
  description: string;
  /** more than a week between the answer and the line */
  isOld: boolean;
  byShop: boolean;
  looked: number;
  wrong: number;
}

/** Decisions that are learned from: the newest. Older cars and habits say less. */
const MOST_SIGN_OFFS = 2000;

/** What the line looked at and found at events that are over, by sign-off and item. */
const foundUntil = (now: Date): Prisma.Sql => Prisma.sql`
    decided AS (
      SELECT s.id, s.checks, s.findings, s.signed_at, i.vehicle->>'description' AS description, i.submitted_at, s.event_id, s.claim_id, s.entry_id,
             i.said <> '{}'::jsonb AS by_shop
      FROM sign_offs s JOIN events e ON e.id = s.event_id JOIN inspections i ON i.id = s.inspection_id
      WHERE e.ends_on < ${now}::date ORDER BY s.signed_at DESC LIMIT ${MOST_SIGN_OFFS}
    ), looks AS (
      SELECT d.id, d.event_id, d.claim_id, d.entry_id, c->>'item' AS item, d.description, d.by_shop,
             d.signed_at - d.submitted_at > interval '7 days' AS is_old,
             bool_or(c->>'result' = 'not-ok' OR (c ? 'value' AND EXISTS (
               SELECT 1 FROM jsonb_array_elements(d.findings) f
               WHERE f->>'result' = 'not-met' AND f->'items'->>0 = c->>'item'
                 AND (f->>'position' IS NULL OR c->>'position' IS NULL OR f->>'position' = c->>'position')))) AS wrong
      FROM decided d CROSS JOIN jsonb_array_elements(d.checks) c
      WHERE NOT c ? 'from'
      GROUP BY d.id, d.event_id, d.claim_id, d.entry_id, c->>'item', d.description, d.by_shop, d.signed_at, d.submitted_at
    )`;

/**
 * What the line looked at and found, over all events that are over. A point was wrong if it was marked so, or if with its value a
 * rule about it first was not met; points taken over from another entry were looked at once, there.
 */
export async function countLooks(db: Tx, now: Date): Promise<CountedLooks[]> {
  return db.$queryRaw<CountedLooks[]>`
    WITH ${foundUntil(now)}
    SELECT item, description, is_old AS "isOld", by_shop AS "byShop", count(*)::int AS looked,
           (count(*) FILTER (WHERE wrong))::int AS wrong
    FROM looks GROUP BY item, description, is_old, by_shop`;
}

/** What a claim depends on beside what judges it: how much time there is, and how its answers came about. */
export interface ClaimCircumstances {
  minutesToSession: number;
  inspectors: number;
  carsWaiting: number;
  answerDays: number;
  byShop: boolean;
}

/** Of a claim that is there; days and minutes from `now`. */
export async function findCircumstances(db: Tx, claimId: string, now: Date): Promise<ClaimCircumstances | undefined> {
  const rows = await db.$queryRaw<ClaimCircumstances[]>`
    SELECT extract(epoch FROM g.first_session_at - ${now}::timestamptz)::float8 / 60 AS "minutesToSession",
           (SELECT count(DISTINCT ok.inspector_id)::int FROM claims ok JOIN tickets ot ON ot.id = ok.ticket_id
            WHERE ot.event_id = t.event_id AND ok.ended_at IS NULL AND ok.expires_at > now()) AS inspectors,
           (SELECT count(*)::int FROM tickets ot JOIN entries oe ON oe.id = ot.entry_id
              JOIN run_groups og ON og.id = oe.run_group_id
            WHERE ot.event_id = t.event_id AND ot.state IN ('waiting', 'claimed')
              AND og.first_session_at <= g.first_session_at) AS "carsWaiting",
           extract(epoch FROM ${now}::timestamptz - i.submitted_at)::float8 / 86400 AS "answerDays",
           i.said <> '{}'::jsonb AS "byShop"
    FROM claims k JOIN tickets t ON t.id = k.ticket_id JOIN inspections i ON i.id = t.inspection_id
    JOIN entries e ON e.id = t.entry_id JOIN run_groups g ON g.id = e.run_group_id
    WHERE k.id = ${claimId}::uuid`;
  return rows[0];
}

/** Keeps what was chosen with the claim; a claim is chosen for once. */
export async function keepLooks(db: Tx, claimId: string, looks: readonly ChosenLook[]): Promise<void> {
  await db.$executeRaw`UPDATE claims SET looks = ${JSON.stringify(looks)}::jsonb WHERE id = ${claimId}::uuid AND looks IS NULL`;
}

/** A point that was chosen and looked at, with the chance it was given. */
export interface ChosenFound {
  chance: number;
  happened: boolean;
}

/** Of points that were chosen: those that were looked at, and how many of all were not. */
export async function listChosen(db: Tx, now: Date): Promise<{ found: ChosenFound[]; notLooked: number }> {
  const rows = await db.$queryRaw<{ chance: number; happened: boolean | null }[]>`
    WITH ${foundUntil(now)}
    SELECT DISTINCT ON (d.id, k->>'item') (k->>'chance')::float8 AS chance, l.wrong AS happened
    FROM decided d JOIN claims c ON c.id = d.claim_id CROSS JOIN jsonb_array_elements(COALESCE(c.looks, '[]'::jsonb)) k
    LEFT JOIN looks l ON l.id = d.id AND l.item = k->>'item'`;
  const found = rows.flatMap(({ chance, happened }) => (happened === null ? [] : [{ chance, happened }]));
  return { found, notLooked: rows.length - found.length };
}

/** The same looks by item and the car as it was described, with the cars and events where it was wrong. */
export async function listFound(db: Tx, now: Date) {
  return db.$queryRaw<
    { item: string; description: string; cars: string[]; events: string[]; looked: number; wrong: number }[]
  >`
    WITH ${foundUntil(now)}
    SELECT l.item, l.description, count(*)::int AS looked, (count(*) FILTER (WHERE l.wrong))::int AS wrong,
           COALESCE(array_agg(DISTINCT e.vehicle_id::text) FILTER (WHERE l.wrong), '{}') AS cars,
           COALESCE(array_agg(DISTINCT l.event_id::text) FILTER (WHERE l.wrong), '{}') AS events
    FROM looks l JOIN entries e ON e.id = l.entry_id
    GROUP BY l.item, l.description`;
}

/** Pads of one car as they were measured when it was accepted. */
export interface PadsRow {
  vehicleId: string;
  startsOn: PlainDate;
  endsOn: PlainDate;
  sessions: Timetable;
  checks: { position?: string; value?: unknown }[];
}

/** Measurements of pads at acceptances of events that are over: the newest of each car and event, in order of the events. */
export async function listMeasuredPads(db: Tx, now: Date): Promise<PadsRow[]> {
  return db.$queryRaw<PadsRow[]>`
    SELECT * FROM (
      SELECT DISTINCT ON (e.vehicle_id, ev.id) e.vehicle_id::text AS "vehicleId", g.sessions,
             to_char(ev.starts_on, 'YYYY-MM-DD') AS "startsOn", to_char(ev.ends_on, 'YYYY-MM-DD') AS "endsOn",
             jsonb_path_query_array(s.checks, '$[*] ? (@.item == "pad.thickness" && exists(@.value))') AS checks
      FROM sign_offs s JOIN entries e ON e.id = s.entry_id JOIN events ev ON ev.id = s.event_id
      JOIN run_groups g ON g.id = e.run_group_id
      WHERE s.decision <> 'refuse' AND ev.ends_on < ${now}::date
      ORDER BY e.vehicle_id, ev.id, s.signed_at DESC
    ) newest
    WHERE jsonb_array_length(checks) > 0 ORDER BY "vehicleId", "endsOn" LIMIT 4000`;
}
