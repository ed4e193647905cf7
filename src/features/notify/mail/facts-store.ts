import type { ClearanceState } from '../../../domain/clearance/decide-clearance.ts';
import type { Pool, Tx } from '../../../platform/database/db.ts';
import { STATE_COLUMNS_SQL, STATE_JOINS_SQL, type StateRow, toClearanceState } from '../../../records/what-stands.ts';
import type { Language } from './kinds.ts';

/** Whom a message is for, and what all messages can say. */
export interface Recipient {
  entryId: string;
  eventId: string;
  name: string;
  email: string | null;
  language: Language | null;
  carNumber: string;
  car: string;
  event: string;
  startsOn: string;
  endsOn: string;
  timeZone: string;
  closesAt: Date;
  firstSessionAt: Date;
  runGroup: string;
  erased: boolean;
  withdrawn: boolean;
  cancelled: boolean;
}

/** Undefined where there is no such entry. */
export async function findRecipient(db: Tx, entryId: string): Promise<Recipient | undefined> {
  const rows = await db.$queryRaw<Recipient[]>`
    SELECT e.id AS "entryId", e.event_id AS "eventId", e.entrant->>'name' AS name, e.entrant->>'email' AS email,
      e.entrant->>'language' AS language, e.car_number AS "carNumber", v.record->>'description' AS car, ev.name AS event,
      ev.starts_on::text AS "startsOn", ev.ends_on::text AS "endsOn", ve.time_zone AS "timeZone",
      ev.declarations_close_at AS "closesAt", g.first_session_at AS "firstSessionAt", g.name AS "runGroup",
      e.erased_at IS NOT NULL AS erased, COALESCE((c.facts->>'withdrawn')::boolean, false) AS withdrawn,
      ev.cancelled_at IS NOT NULL AS cancelled
    FROM entries e JOIN vehicles v ON v.id = e.vehicle_id JOIN events ev ON ev.id = e.event_id
      JOIN venues ve ON ve.id = ev.venue_id JOIN run_groups g ON g.id = e.run_group_id
      JOIN clearances c ON c.entry_id = e.id
    WHERE e.id = ${entryId}::uuid`;
  return rows[0];
}

/** What the gate says of an entry is made from this; undefined where there is no such entry. */
export async function findClearanceState(db: Tx, entryId: string): Promise<ClearanceState | undefined> {
  const [row] = await db.$queryRaw<StateRow[]>`
    SELECT ${STATE_COLUMNS_SQL} FROM clearances c JOIN entries e ON e.id = c.entry_id
      JOIN run_groups g ON g.id = e.run_group_id ${STATE_JOINS_SQL} WHERE c.entry_id = ${entryId}::uuid`;
  return row === undefined ? undefined : toClearanceState(row);
}

/** Hours before the end of a clearance at which it is told. */
const EXPIRES_HOURS = 12;
/** Days after an event in which what wore is still told: a server that stood still tells it late, not never. */
const WEAR_DAYS = 3;
const MOST_AT_ONCE = 200;

export interface Due {
  entryId: string;
  id: string;
  dedupeKey: string;
}

/** Entries whose people are to be told something now, and were not yet. */
async function listDue(pool: Pool, sql: string, values: readonly unknown[]): Promise<Due[]> {
  const { rows } = await pool.query(
    `SELECT * FROM (${sql}) AS due
      WHERE NOT EXISTS (SELECT 1 FROM mails m WHERE m.dedupe_key = due."dedupeKey")
        AND NOT EXISTS (SELECT 1 FROM mail_unsaid u WHERE u.dedupe_key = due."dedupeKey")
        AND NOT EXISTS (SELECT 1 FROM mail_stops s WHERE s.entry_id = due."entryId") LIMIT ${MOST_AT_ONCE}`,
    [...values],
  );
  // as the statements below name their columns
  return rows as Due[];
}

const ENTRIES = `entries e JOIN events ev ON ev.id = e.event_id JOIN venues ve ON ve.id = ev.venue_id
  JOIN clearances c ON c.entry_id = e.id`;
const THERE = `e.entrant->>'email' IS NOT NULL AND e.erased_at IS NULL AND ev.cancelled_at IS NULL
  AND (c.facts->>'withdrawn')::boolean IS NOT TRUE`;

const UNDECLARED = `SELECT e.id AS "entryId", e.id, 'reminder/' || e.id || '/' || $2::text AS "dedupeKey" FROM ${ENTRIES}
  WHERE ${THERE} AND c.facts->'declared' IS NULL AND ev.declarations_open_at <= $1::timestamptz
    AND ev.declarations_close_at > $1::timestamptz
    AND ev.declarations_close_at <= $1::timestamptz + make_interval(hours => $2::int)
    AND ev.declarations_close_at > $1::timestamptz + make_interval(hours => $3::int)`;

const EXPIRING = `SELECT e.id AS "entryId", (c.facts->'signOff'->>'signOffId')::uuid AS id,
    'expires/' || (c.facts->'signOff'->>'signOffId') AS "dedupeKey" FROM ${ENTRIES}
  WHERE ${THERE} AND (c.facts->'signOff'->>'validUntil')::timestamptz > $1::timestamptz
    AND (c.facts->'signOff'->>'validUntil')::timestamptz <= $1::timestamptz + make_interval(hours => ${EXPIRES_HOURS})
    AND (c.facts->'signOff'->>'validUntil')::timestamptz < (ev.ends_on + 1)::timestamp AT TIME ZONE ve.time_zone`;

const WORN = `SELECT e.id AS "entryId", e.id, 'wear/' || e.id AS "dedupeKey" FROM ${ENTRIES}
  WHERE ${THERE} AND c.facts->'signOff' IS NOT NULL
    AND ($1::timestamptz AT TIME ZONE ve.time_zone)::date > ev.ends_on
    AND ($1::timestamptz AT TIME ZONE ve.time_zone)::date <= ev.ends_on + ${WEAR_DAYS}`;

/** Who has not declared, from `within` hours before the close of declarations to `after` hours before it. */
export const listUndeclared = (pool: Pool, now: Date, hours: { within: number; after: number }): Promise<Due[]> =>
  listDue(pool, UNDECLARED, [now, hours.within, hours.after]);

/** Whose clearance ends soon, and before the event does. */
export const listEnding = (pool: Pool, now: Date): Promise<Due[]> => listDue(pool, EXPIRING, [now]);

/** Whose event is over, of those whom the line decided on. */
export const listWorn = (pool: Pool, now: Date): Promise<Due[]> => listDue(pool, WORN, [now]);
