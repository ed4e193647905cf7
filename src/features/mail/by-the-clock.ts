import type { Deps } from '../../deps.ts';
import type { MailKind } from './kinds.ts';
import { writeMail } from './write.ts';

/** Hours before the close of declarations at which whoever has not declared is reminded. */
const REMIND_HOURS = [72, 24] as const;
/** Hours before the end of a clearance at which it is told. */
const EXPIRES_HOURS = 12;
/** Days after an event in which what wore is still told: a server that stood still tells it late, not never. */
const WEAR_DAYS = 3;
const MOST_AT_ONCE = 200;

interface Due {
  entryId: string;
  id: string;
  dedupeKey: string;
}

/** Entries whose people are to be told something now, and were not yet. */
async function listDue({ db }: Deps, sql: string, values: readonly unknown[]): Promise<Due[]> {
  const { rows } = await db.pool.query(
    `SELECT * FROM (${sql}) AS due
      WHERE NOT EXISTS (SELECT 1 FROM mails m WHERE m.dedupe_key = due."dedupeKey")
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

/** Tells what only the clock knows: who has not declared, whose clearance ends soon, what wore. Returns how many. */
export async function mailByTheClock(deps: Deps, signal?: AbortSignal): Promise<number> {
  if (deps.config.mail.mode === 'off') return 0;
  const now = deps.clock.now();
  const due: [MailKind, Due[]][] = [];
  for (const [at, hours] of REMIND_HOURS.entries()) {
    due.push(['reminder', await listDue(deps, UNDECLARED, [now, hours, REMIND_HOURS[at + 1] ?? 0])]);
  }
  due.push(['expires', await listDue(deps, EXPIRING, [now])], ['wear', await listDue(deps, WORN, [now])]);
  let written = 0;
  for (const [kind, entries] of due) {
    for (const { entryId, id, dedupeKey } of entries) {
      if (signal?.aborted === true) return written;
      if ((await writeMail(deps, { entryId, kind, id, dedupeKey })) === 'written') written += 1;
    }
  }
  return written;
}
