import { daysBetween, type PlainDate } from '../../domain/calendar.ts';
import { type Origins, unconfirmedFacts } from '../../domain/car/car-facts.ts';
import { type Concession, countingConcessions } from '../../domain/clearance/concession.ts';
import { parseAnswers, parseCellKey } from '../../domain/declaration/declaration.ts';
import type { EarlierEvent } from '../../domain/facts/fact.ts';
import type { ParameterOverride, VenueFacts } from '../../domain/rules/model/rule-set.ts';
import { type LoggedWear, loggedReadings } from '../../domain/log/logged-wear.ts';
import type { Timetable } from '../../domain/log/timetable.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import type { Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import { CONCESSION_JSON } from '../what-stands.ts';
import { PHOTO_COUNTS, type PhotoCounts } from '../evidence.ts';

/** An earlier event as the database gives it: of the newest acceptance what was declared and what was measured. */
interface EarlierRow {
  startsOn: PlainDate;
  endsOn: PlainDate;
  /** days at that venue of the first acceptance and of the newest one */
  firstOn: PlainDate;
  newestOn: PlainDate;
  /** answers by item, of those that wear */
  declared: Readonly<Record<string, unknown>>;
  checks: readonly { item: string; position?: string; value?: unknown }[];
  log: LoggedWear[];
  sessions: Timetable;
  timeZone: string;
}

const PADS = 'pad.thickness';
/** In the order in which they count: what was measured in more places last. */
const TREADS = ['tyre.tread-lowest', 'tyre.tread'];

/** What the log of the car of entry `e` has of an event that wears, as jsonb, oldest first. */
const wearLog = (eventId: Prisma.Sql): Prisma.Sql => Prisma.sql`
  COALESCE((
    SELECT jsonb_agg(jsonb_build_object('at', to_char(sl.at AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"'),
      'session', sl.session, 'cells', sl.content->'cells', 'laps', sl.content->'laps', 'renewed', sl.content->'renewed')
      ORDER BY sl.at, sl.id)
    FROM session_log sl JOIN entries le ON le.id = sl.entry_id
    WHERE le.vehicle_id = e.vehicle_id AND le.event_id = ${eventId} AND sl.kind IN ('pads', 'tread', 'laps')
  ), '[]'::jsonb)`;

/**
 * The earlier events of the car of entry `e` at event `ev`, as jsonb: those that were over before it begins and at which
 * the car was accepted, oldest first. An entry that was never accepted was not driven.
 */
const EARLIER_EVENTS = Prisma.sql`
  COALESCE((
    SELECT jsonb_agg(jsonb_build_object('startsOn', d.starts_on, 'endsOn', d.ends_on, 'firstOn', d.first_on,
      'newestOn', d.newest_on, 'declared', d.declared, 'checks', d.checks, 'timeZone', d.time_zone,
      'sessions', d.sessions, 'log', ${wearLog(Prisma.sql`d.event_id`)}) ORDER BY d.ends_on, d.event_id)
    FROM (
      SELECT DISTINCT ON (oe.event_id) oe.event_id, o.starts_on, o.ends_on, ov.time_zone, og.sessions,
             (min(s.signed_at) OVER (PARTITION BY oe.event_id) AT TIME ZONE ov.time_zone)::date AS first_on,
             (s.signed_at AT TIME ZONE ov.time_zone)::date AS newest_on,
             jsonb_build_object('pad.thickness', i.answers->'pad.thickness', 'tyre.tread', i.answers->'tyre.tread',
               'tyre.tread-lowest', i.answers->'tyre.tread-lowest') AS declared,
             jsonb_path_query_array(s.checks, '$[*] ? (@.item == "pad.thickness" || @.item == "tyre.tread"
               || @.item == "tyre.tread-lowest")') AS checks
      FROM entries oe
      JOIN events o ON o.id = oe.event_id AND o.ends_on < ev.starts_on
      JOIN venues ov ON ov.id = o.venue_id
      JOIN run_groups og ON og.id = oe.run_group_id
      JOIN inspections i ON i.entry_id = oe.id
      JOIN sign_offs s ON s.inspection_id = i.id AND s.decision <> 'refuse'
      WHERE oe.vehicle_id = e.vehicle_id AND oe.event_id <> e.event_id
      ORDER BY oe.event_id, s.signed_at DESC
    ) d
  ), '[]'::jsonb)`;

function readPlaces(item: string, raw: unknown, into: Record<string, number>): void {
  const parsed = parseAnswers({ [item]: raw });
  // a value that a later catalogue cannot read is not known
  for (const [cell, value] of parsed.ok ? parsed.answers : []) {
    const { position } = parseCellKey(cell);
    if (position !== undefined && typeof value === 'number') into[position] = value;
  }
}

/** An item at an acceptance, by its places: what was measured, else what was declared. */
function placesOf(item: string, { declared, checks }: EarlierRow): Record<string, number> {
  const places: Record<string, number> = {};
  readPlaces(item, declared[item], places);
  for (const { item: checked, position, value } of checks) {
    if (checked === item && position !== undefined && value !== undefined)
      readPlaces(item, { [position]: value }, places);
  }
  return places;
}

/** The treads of an acceptance, mm, by the item that has most places. */
function treadsOf(row: EarlierRow): Pick<EarlierEvent, 'treadMm'> {
  const read = TREADS.map((item) => placesOf(item, row));
  const treadMm = read.reduce((one, other) => (Object.keys(other).length >= Object.keys(one).length ? other : one));
  return Object.keys(treadMm).length === 0 ? {} : { treadMm };
}

/** Whole days of an event from one day to before another; days outside the event do not count. */
function daysWithin({ startsOn, endsOn }: EarlierRow, from: PlainDate, before?: PlainDate): number {
  const first = from < startsOn ? startsOn : from;
  const days = before === undefined ? daysBetween(first, endsOn) + 1 : daysBetween(first, before);
  return Math.max(0, days);
}

/** What judging needs of earlier events. */
function toEarlierEvents(rows: readonly EarlierRow[]): EarlierEvent[] {
  return rows.map((row) => {
    const { startsOn, endsOn, firstOn, timeZone, sessions } = row;
    const from = firstOn < startsOn ? startsOn : firstOn;
    const logged = loggedReadings(row.log, { from, endsOn, timeZone, sessions });
    return {
      startsOn,
      endsOn,
      daysBefore: daysWithin(row, firstOn, row.newestOn),
      daysAfter: daysWithin(row, row.newestOn),
      padThicknessMm: placesOf(PADS, row),
      ...treadsOf(row),
      ...(logged.length === 0 ? {} : { logged }),
    };
  });
}

/** What the log has of the event itself, as far as it was driven. */
function ownEvent(row: ContextRow): EarlierEvent[] {
  const { startsOn, endsOn, timeZone, sessions, ownLog } = row;
  const logged = loggedReadings(ownLog, { from: startsOn, endsOn, timeZone, sessions });
  const driven = Math.max(0, ...logged.map((one) => one.driven));
  if (logged.length === 0) return [];
  return [{ startsOn, endsOn, daysBefore: 0, daysAfter: driven, padThicknessMm: {}, logged }];
}

/** Everything but the answers that a judgement of an entry depends on, read in one statement. */
export interface JudgingContext {
  entryId: string;
  carNumber: string;
  vehicle: Vehicle;
  runGroupId: string;
  runGroup: string;
  firstSessionAt: Date;
  /** when the run group is on track; empty: no more is known than when it first goes out */
  sessions: Timetable;
  ruleSetId: string;
  ruleSetVersion: number;
  /** the rules as venue and run group changed them; null for run groups from before overlays */
  resolvedHash: string | null;
  parameters: Readonly<Record<string, ParameterOverride>>;
  event: { eventId: string; startsOn: PlainDate; endsOn: PlainDate; opensAt: Date; closesAt: Date };
  venue: VenueFacts & { timeZone: string };
  /** earlier events of the same car, oldest first */
  earlier: readonly EarlierEvent[];
  /** evidence photos that count now, by catalogue key */
  photos: PhotoCounts;
  /** the car's facts that nobody of the staff stands for, by their paths */
  unconfirmed: readonly string[];
  /** all that count under the run group's version of the rules; the caller drops those that have expired */
  concessions: readonly Concession[];
}

export interface VenueDetails {
  topSpeedKmh?: number;
  soundLimit?: { levelDb: number; distanceM: number };
  lapLengthM?: number;
  designAirTemperatureC?: number;
  brakingZones?: VenueFacts['brakingZones'];
}

/** What a statement must read for `toJudgingContext`. */
export interface ContextRow {
  carNumber: string;
  vehicle: Vehicle;
  origins: Origins;
  runGroupId: string;
  runGroup: string;
  firstSessionAt: Date;
  sessions: Timetable;
  ruleSetId: string;
  ruleSetVersion: number;
  resolvedHash: string | null;
  parameters: Record<string, ParameterOverride>;
  eventId: string;
  startsOn: string;
  endsOn: string;
  opensAt: Date;
  closesAt: Date;
  timeZone: string;
  venue: VenueDetails;
  concessions: Concession[];
  earlier: EarlierRow[];
  ownLog: LoggedWear[];
  photos: PhotoCounts;
}

/** Columns of a context beside those that `ENTRY_COLUMNS` has too, around the joins of `ENTRY_JOINS` and `vehicles v`. */
export const CONTEXT_COLUMNS = Prisma.sql`
  v.record AS vehicle, v.origins, g.first_session_at AS "firstSessionAt", g.sessions, g.rule_set_id AS "ruleSetId",
  g.rule_set_version AS "ruleSetVersion", g.resolved_hash AS "resolvedHash", g.parameters,
  to_char(ev.starts_on, 'YYYY-MM-DD') AS "startsOn", to_char(ev.ends_on, 'YYYY-MM-DD') AS "endsOn",
  ev.declarations_open_at AS "opensAt", LEAST(ev.declarations_close_at, ev.cancelled_at) AS "closesAt",
  ve.time_zone AS "timeZone", ve.details AS venue,
  COALESCE((SELECT jsonb_agg(${CONCESSION_JSON} ORDER BY c.id) FROM concessions c WHERE c.entry_id = e.id),
    '[]'::jsonb) AS concessions,
  ${EARLIER_EVENTS} AS earlier, ${wearLog(Prisma.sql`ev.id`)} AS "ownLog", ${PHOTO_COUNTS} AS photos`;

/** The context of an entry alone, without a lock; `also` is one more column about entry `e`. */
export const contextStatement = (entryId: string, also = Prisma.sql`true AS found`): Prisma.Sql => Prisma.sql`
  SELECT e.car_number AS "carNumber", e.run_group_id AS "runGroupId", g.name AS "runGroup", e.event_id AS "eventId",
    ${CONTEXT_COLUMNS}, ${also}
  FROM entries e
  JOIN run_groups g ON g.id = e.run_group_id
  JOIN events ev ON ev.id = e.event_id
  JOIN venues ve ON ve.id = ev.venue_id
  JOIN vehicles v ON v.id = e.vehicle_id
  WHERE e.id = ${entryId}::uuid`;

/** Loads the context of an entry as it is now; undefined when there is no such entry. */
export async function findJudgingContext(db: Tx, entryId: string): Promise<JudgingContext | undefined> {
  const rows = await db.$queryRaw<ContextRow[]>(contextStatement(entryId));
  return rows[0] === undefined ? undefined : toJudgingContext(entryId, rows[0]);
}

/** A context as a statement read it. */
export function toJudgingContext(entryId: string, row: ContextRow): JudgingContext {
  return {
    entryId,
    carNumber: row.carNumber,
    vehicle: row.vehicle,
    runGroupId: row.runGroupId,
    runGroup: row.runGroup,
    firstSessionAt: row.firstSessionAt,
    sessions: row.sessions,
    ruleSetId: row.ruleSetId,
    ruleSetVersion: row.ruleSetVersion,
    resolvedHash: row.resolvedHash,
    parameters: row.parameters,
    event: {
      eventId: row.eventId,
      startsOn: row.startsOn,
      endsOn: row.endsOn,
      opensAt: row.opensAt,
      closesAt: row.closesAt,
    },
    venue: { timeZone: row.timeZone, ...venueFacts(row.venue) },
    earlier: [...toEarlierEvents(row.earlier), ...ownEvent(row)],
    photos: row.photos,
    unconfirmed: unconfirmedFacts(row.vehicle, row.origins),
    concessions: countingConcessions(row.concessions, {
      ruleSetId: row.ruleSetId,
      ruleSetVersion: row.ruleSetVersion,
    }),
  };
}

export function venueFacts(details: VenueDetails): VenueFacts {
  const { topSpeedKmh, lapLengthM, designAirTemperatureC, brakingZones } = details;
  return {
    ...(topSpeedKmh === undefined ? {} : { topSpeedKmh }),
    ...(lapLengthM === undefined ? {} : { lapLengthM }),
    ...(designAirTemperatureC === undefined ? {} : { designAirTemperatureC }),
    ...(brakingZones === undefined || brakingZones.length === 0 ? {} : { brakingZones }),
    ...(details.soundLimit === undefined
      ? {}
      : { soundLimitDb: details.soundLimit.levelDb, soundDistanceM: details.soundLimit.distanceM }),
  };
}
