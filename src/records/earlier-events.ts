import { daysBetween, type PlainDate } from '../domain/calendar.ts';
import { parseAnswers, parseCellKey } from '../domain/declaration.ts';
import type { EarlierEvent } from '../domain/facts/earlier-event.ts';
import { Prisma } from '../platform/prisma-client/client.ts';

/** An earlier event as the database gives it: of the newest acceptance what was declared and what was measured. */
export interface EarlierRow {
  startsOn: PlainDate;
  endsOn: PlainDate;
  /** days at that venue of the first acceptance and of the newest one */
  firstOn: PlainDate;
  newestOn: PlainDate;
  declared: unknown;
  checks: readonly { item: string; position?: string; value?: unknown }[];
}

const PADS = 'pad.thickness';

/**
 * The earlier events of the car of entry `e` at event `ev`, as jsonb: those that were over before it begins and at which
 * the car was accepted, oldest first. An entry that was never accepted was not driven.
 */
export const EARLIER_EVENTS = Prisma.sql`
  COALESCE((
    SELECT jsonb_agg(jsonb_build_object('startsOn', d.starts_on, 'endsOn', d.ends_on, 'firstOn', d.first_on,
      'newestOn', d.newest_on, 'declared', d.declared, 'checks', d.checks) ORDER BY d.ends_on, d.event_id)
    FROM (
      SELECT DISTINCT ON (oe.event_id) oe.event_id, o.starts_on, o.ends_on,
             (min(s.signed_at) OVER (PARTITION BY oe.event_id) AT TIME ZONE ov.time_zone)::date AS first_on,
             (s.signed_at AT TIME ZONE ov.time_zone)::date AS newest_on,
             i.answers->'pad.thickness' AS declared,
             jsonb_path_query_array(s.checks, '$[*] ? (@.item == "pad.thickness")') AS checks
      FROM entries oe
      JOIN events o ON o.id = oe.event_id AND o.ends_on < ev.starts_on
      JOIN venues ov ON ov.id = o.venue_id
      JOIN inspections i ON i.entry_id = oe.id
      JOIN sign_offs s ON s.inspection_id = i.id AND s.decision <> 'refuse'
      WHERE oe.vehicle_id = e.vehicle_id AND oe.event_id <> e.event_id
      ORDER BY oe.event_id, s.signed_at DESC
    ) d
  ), '[]'::jsonb)`;

function readPads(raw: unknown, into: Record<string, number>): void {
  const parsed = parseAnswers({ [PADS]: raw });
  // a value that a later catalogue cannot read is not known
  for (const [cell, value] of parsed.ok ? parsed.answers : []) {
    const { position } = parseCellKey(cell);
    if (position !== undefined && typeof value === 'number') into[position] = value;
  }
}

/** The pads of an acceptance, mm: what was measured, else what was declared. */
function padsOf({ declared, checks }: EarlierRow): EarlierEvent['padThicknessMm'] {
  const pads: Record<string, number> = {};
  readPads(declared, pads);
  for (const { position, value } of checks) {
    if (position !== undefined && value !== undefined) readPads({ [position]: value }, pads);
  }
  return pads;
}

/** Whole days of an event from one day to before another; days outside the event do not count. */
function daysWithin({ startsOn, endsOn }: EarlierRow, from: PlainDate, before?: PlainDate): number {
  const first = from < startsOn ? startsOn : from;
  const days = before === undefined ? daysBetween(first, endsOn) + 1 : daysBetween(first, before);
  return Math.max(0, days);
}

/** What judging needs of earlier events. */
export function toEarlierEvents(rows: readonly EarlierRow[]): EarlierEvent[] {
  return rows.map((row) => ({
    startsOn: row.startsOn,
    endsOn: row.endsOn,
    daysBefore: daysWithin(row, row.firstOn, row.newestOn),
    daysAfter: daysWithin(row, row.newestOn),
    padThicknessMm: padsOf(row),
  }));
}
