import type { PlainDate } from '../domain/calendar.ts';
import { type Concession, countingConcessions } from '../domain/concession.ts';
import type { EarlierEvent } from '../domain/facts/earlier-event.ts';
import type { ParameterOverride, VenueFacts } from '../domain/rules/rule-set.ts';
import type { Vehicle } from '../domain/vehicle.ts';
import type { Tx } from '../platform/db.ts';
import { Prisma } from '../platform/prisma-client/client.ts';
import { CONCESSION_JSON } from './concessions.ts';
import { EARLIER_EVENTS, type EarlierRow, toEarlierEvents } from './earlier-events.ts';
import { PHOTO_COUNTS, type PhotoCounts } from './photos.ts';

/** Everything but the answers that a judgement of an entry depends on, read in one statement. */
export interface JudgingContext {
  entryId: string;
  carNumber: string;
  vehicle: Vehicle;
  runGroupId: string;
  runGroup: string;
  firstSessionAt: Date;
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
  /** all that count under the run group's version of the rules; the caller drops those that have expired */
  concessions: readonly Concession[];
}

interface VenueDetails {
  topSpeedKmh?: number;
  soundLimit?: { levelDb: number; distanceM: number };
  lapLengthM?: number;
  designAirTemperatureC?: number;
  brakingZones?: VenueFacts['brakingZones'];
}

/** What a statement must read for `toJudgingContext`. */
export interface ContextRow {
  car_number: string;
  vehicle: Vehicle;
  run_group_id: string;
  run_group: string;
  first_session_at: Date;
  rule_set_id: string;
  rule_set_version: number;
  resolved_hash: string | null;
  parameters: Record<string, ParameterOverride>;
  event_id: string;
  starts_on: string;
  ends_on: string;
  opens_at: Date;
  closes_at: Date;
  time_zone: string;
  venue: VenueDetails;
  concessions: Concession[];
  earlier: EarlierRow[];
  photos: PhotoCounts;
}

/** Columns of a context beside those that `ENTRY_COLUMNS` has too, around the joins of `ENTRY_JOINS` and `vehicles v`. */
export const CONTEXT_COLUMNS = Prisma.sql`
  v.record AS vehicle, g.first_session_at, g.rule_set_id, g.rule_set_version, g.resolved_hash, g.parameters,
  to_char(ev.starts_on, 'YYYY-MM-DD') AS starts_on, to_char(ev.ends_on, 'YYYY-MM-DD') AS ends_on,
  ev.declarations_open_at AS opens_at, ev.declarations_close_at AS closes_at, ve.time_zone, ve.details AS venue,
  COALESCE((SELECT jsonb_agg(${CONCESSION_JSON} ORDER BY c.id) FROM concessions c WHERE c.entry_id = e.id),
    '[]'::jsonb) AS concessions,
  ${EARLIER_EVENTS} AS earlier, ${PHOTO_COUNTS} AS photos`;

/** The context of an entry alone, without a lock; `also` is one more column about entry `e`. */
export const contextStatement = (entryId: string, also = Prisma.sql`true AS found`): Prisma.Sql => Prisma.sql`
  SELECT e.car_number, e.run_group_id, g.name AS run_group, e.event_id, ${CONTEXT_COLUMNS}, ${also}
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
    carNumber: row.car_number,
    vehicle: row.vehicle,
    runGroupId: row.run_group_id,
    runGroup: row.run_group,
    firstSessionAt: row.first_session_at,
    ruleSetId: row.rule_set_id,
    ruleSetVersion: row.rule_set_version,
    resolvedHash: row.resolved_hash,
    parameters: row.parameters,
    event: {
      eventId: row.event_id,
      startsOn: row.starts_on,
      endsOn: row.ends_on,
      opensAt: row.opens_at,
      closesAt: row.closes_at,
    },
    venue: { timeZone: row.time_zone, ...venueFacts(row.venue) },
    earlier: toEarlierEvents(row.earlier),
    photos: row.photos,
    concessions: countingConcessions(row.concessions, {
      ruleSetId: row.rule_set_id,
      ruleSetVersion: row.rule_set_version,
    }),
  };
}

function venueFacts(details: VenueDetails): VenueFacts {
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
