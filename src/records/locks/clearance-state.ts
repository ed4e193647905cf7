import type { CarFacts } from '../../domain/clearance/car-facts.ts';
import type { ClearanceFacts } from '../../domain/clearance/clearance.ts';
import type { AdmissionDays, ClearanceState } from '../../domain/clearance/decide-clearance.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';

/** The days of an event as `DAYS_COLUMNS` reads them. */
export interface DaysRow {
  daysFrom: Date;
  daysUntil: Date;
  cancelledAt: Date | null;
  cancelReason: string | null;
}

/** What a statement must read for `toClearanceState`. */
export interface StateRow extends DaysRow {
  facts: ClearanceFacts;
  carFacts: CarFacts;
  runGroup: string;
  wet: boolean;
}

/** The days of an event as it stands now, in the zone of its venue; around `events ev` and `venues ve` of the statement. */
const DAYS_COLUMNS = `ev.starts_on::timestamp AT TIME ZONE ve.time_zone AS "daysFrom",
  (ev.ends_on + 1)::timestamp AT TIME ZONE ve.time_zone AS "daysUntil",
  ev.cancelled_at AS "cancelledAt", ev.cancel_reason AS "cancelReason"`;
export const DAYS_COLUMNS_SQL = Prisma.raw(DAYS_COLUMNS);

/**
 * Columns and joins of all that decides a clearance, around `clearances c`, `entries e` and `run_groups g` of the statement.
 * The days are those of the event as it stands now, in the zone of its venue.
 */
export const STATE_COLUMNS = `c.facts, k.facts AS "carFacts", g.name AS "runGroup", g.wet_since IS NOT NULL AS wet,
  ${DAYS_COLUMNS}`;
export const STATE_JOINS = `JOIN car_clearances k ON k.id = c.car_id
  JOIN events ev ON ev.id = c.event_id JOIN venues ve ON ve.id = ev.venue_id`;

/** The same for statements of the ORM's client. */
export const STATE_COLUMNS_SQL = Prisma.raw(STATE_COLUMNS);
export const STATE_JOINS_SQL = Prisma.raw(STATE_JOINS);

export function toDays(row: DaysRow): AdmissionDays {
  const { daysFrom: from, daysUntil: until, cancelledAt: at, cancelReason: reason } = row;
  return at === null ? { from, until } : { from, until, cancelled: { at, reason: reason ?? '' } };
}

export function toClearanceState(row: StateRow): ClearanceState {
  return {
    facts: row.facts,
    car: row.carFacts,
    runGroup: row.runGroup,
    days: toDays(row),
    wet: row.wet,
  };
}
