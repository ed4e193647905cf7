import type { Actor } from '../domain/actor.ts';
import { addDays, type PlainDate, startOfNextDay } from '../domain/calendar.ts';
import type { Pool } from '../platform/db.ts';
import { notFound } from './problem.ts';

/** Whole days at the venue, after the last event day, on which a token for the event still works. */
const DAYS_AFTER = 1;

/** The first instant at which a token for this event no longer works there. */
export function tokenEndAt(event: { endsOn: PlainDate; timeZone: string }): Date {
  return startOfNextDay(addDays(event.endsOn, DAYS_AFTER), event.timeZone);
}

/**
 * In SQL, the events that a row of `tokens` is for and at which it still works, as `uuid[]`; NULL for a token that is
 * bound to none. The same day as `tokenEndAt`, of the event as it stands.
 */
export function liveEvents(table: string, now: string): string {
  const end = `(ev.ends_on + ${DAYS_AFTER + 1})::timestamp AT TIME ZONE ve.time_zone`;
  return `(SELECT COALESCE(array_agg(te.event_id) FILTER (WHERE ${end} > ${now}::timestamptz), '{}')
    FROM token_events te JOIN events ev ON ev.id = te.event_id JOIN venues ve ON ve.id = ev.venue_id
    WHERE te.token_id = ${table}.id HAVING count(*) > 0)`;
}

/** What a path can name, by the event it is below. A vehicle is below each event that it is entered in. */
const BELOW: Readonly<Record<string, string>> = {
  eventId: 'SELECT $1::uuid AS event_id',
  entryId: 'SELECT event_id FROM entries WHERE id = $1',
  claimId: 'SELECT t.event_id FROM claims c JOIN tickets t ON t.id = c.ticket_id WHERE c.id = $1',
  inspectionId: 'SELECT e.event_id FROM inspections i JOIN entries e ON e.id = i.entry_id WHERE i.id = $1',
  photoId: 'SELECT e.event_id FROM photos p JOIN entries e ON e.id = p.entry_id WHERE p.id = $1',
  holdId: 'SELECT e.event_id FROM holds h JOIN entries e ON e.id = h.entry_id WHERE h.id = $1',
  concessionId: 'SELECT e.event_id FROM concessions c JOIN entries e ON e.id = c.entry_id WHERE c.id = $1',
  rejudgementId: 'SELECT g.event_id FROM tasks t JOIN run_groups g ON g.id = t.subject_id WHERE t.id = $1',
  runGroupId: 'SELECT event_id FROM run_groups WHERE id = $1',
  vehicleId: 'SELECT event_id FROM entries WHERE vehicle_id = $1',
};
/** What is below no event, or below what the path names before it. */
const ELSEWHERE: ReadonlySet<string> = new Set(['ruleSetId', 'version', 'name', 'carNumber', 'ruleId', 'conditionId']);
const WORDS: Readonly<Record<string, string>> = {
  runGroupId: 'run group',
  rejudgementId: 're-judgement',
  photoId: 'photo',
};
const UUID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/i;

/** The names in a path that nobody has said the event of; a route with one must not register. */
export function unplaced(url: string): string[] {
  const names = [...url.matchAll(/:(\w+)/g)].map(([, name = '']) => name);
  return names.filter((name) => BELOW[name] === undefined && !ELSEWHERE.has(name));
}

/**
 * Refuses whoever has a token for other events: what is below another event must look as if it were not there.
 *
 * @throws ProblemError `not-found`
 */
export async function assertReaches(pool: Pool, actor: Actor, params: unknown): Promise<void> {
  if (actor.eventIds === undefined) return;
  const named = Object.entries((params ?? {}) as Record<string, unknown>);
  for (const [name, value] of named) {
    const below = BELOW[name];
    // What is no id is refused by the route's own schema.
    if (below === undefined || typeof value !== 'string' || !UUID.test(value)) continue;
    const { rows } = await pool.query<{ reaches: boolean }>({
      name: `reaches-${name}`,
      text: `SELECT EXISTS (SELECT 1 FROM (${below}) b WHERE b.event_id = ANY($2::uuid[])) AS reaches`,
      values: [value, actor.eventIds],
    });
    if (rows[0]?.reaches !== true) throw notFound(WORDS[name] ?? name.replace(/Id$/, ''));
  }
}
