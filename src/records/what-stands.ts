import { v7 as uuidV7 } from 'uuid';
import type { ClearanceFacts, OpenCondition } from '../domain/clearance/clearance.ts';
import { type Concession, countingConcessions } from '../domain/clearance/concession.ts';
import type { MadeCheck, StandingRefusal } from '../domain/clearance/inspect-again.ts';
import type { Finding } from '../domain/rules/model/finding.ts';
import type { Tx } from '../platform/database/db.ts';
import { Prisma } from '../platform/prisma-client/client.ts';
import type { CarFacts } from '../domain/clearance/car-happenings.ts';
import type { AdmissionDays, ClearanceState } from '../domain/clearance/decide-clearance.ts';

/** Name of the job that notes the end of a clearance; its payload is `{ signOffId }`. */
export const CLEARANCE_EXPIRE = 'clearance.expire';
/** Name of the job that notes that a condition fell due; its payload is `{ conditionId }`. */
export const CONDITION_FALL_DUE = 'condition.fall-due';

/** The same as `listStandingRefusals` in one value, for the car `k` of the statement around it. */
export const STANDING_REFUSALS = Prisma.sql`
  COALESCE((
    SELECT jsonb_agg(jsonb_build_object('runGroup', r->>'runGroup', 'note', COALESCE(rs.note, ''), 'checks', rs.checks,
      'findings', rs.findings) ORDER BY rs.id DESC)
    FROM jsonb_array_elements(k.facts->'refusals') r JOIN sign_offs rs ON rs.id = (r->>'signOffId')::uuid
  ), '[]'::jsonb)`;

/** What the line refused the car of an entry for, at whichever of its entries, and has not accepted since; newest first. */
export async function listStandingRefusals(db: Tx, entryId: string): Promise<StandingRefusal[]> {
  // `checks` and `findings` are written by the sign-off only, from typed values
  return db.$queryRaw<{ runGroup: string; note: string; checks: MadeCheck[]; findings: Finding[] }[]>`
    SELECT r->>'runGroup' AS "runGroup", COALESCE(s.note, '') AS note, s.checks, s.findings
    FROM clearances c JOIN car_clearances k ON k.id = c.car_id
    CROSS JOIN LATERAL jsonb_array_elements(k.facts->'refusals') r
    JOIN sign_offs s ON s.id = (r->>'signOffId')::uuid
    WHERE c.entry_id = ${entryId}::uuid ORDER BY s.id DESC`;
}

/** The same as `listStickers`, for the car `k` of the statement around it. */
export const STICKERS = Prisma.sql`
  SELECT s.sticker_number FROM sign_offs s JOIN clearances sc ON sc.entry_id = s.entry_id
  WHERE sc.car_id = k.id AND s.sticker_number IS NOT NULL ORDER BY s.id`;

/** Every sticker that was given to a car at an event, in the order in which they were. */
export async function listStickers(tx: Tx, carId: string): Promise<string[]> {
  const rows = await tx.$queryRaw<{ sticker: string }[]>`
    SELECT s.sticker_number AS sticker FROM sign_offs s JOIN clearances c ON c.entry_id = s.entry_id
    WHERE c.car_id = ${carId}::uuid AND s.sticker_number IS NOT NULL ORDER BY s.id`;
  return rows.map(({ sticker }) => sticker);
}

/** A row `c` of the table as a `Concession`, for statements that read concessions along with other things. */
export const CONCESSION_JSON = Prisma.sql`jsonb_strip_nulls(jsonb_build_object(
  'concessionId', c.id, 'ruleId', c.rule_id, 'ruleSetId', c.rule_set_id, 'ruleSetVersion', c.rule_set_version,
  'coversLaterVersions', c.covers_later_versions, 'reason', c.reason, 'condition', c.condition,
  'expiresAt', to_char(c.expires_at AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"'),
  'needsSecondPerson', c.needs_second_person, 'approved', c.approved_at IS NOT NULL,
  'revoked', c.revoked_at IS NOT NULL))`;

/** The concessions of an entry that count under a version of the rules, expired ones included. */
export async function listConcessions(
  db: Tx,
  where: { entryId: string; ruleSetId: string; ruleSetVersion: number },
): Promise<Concession[]> {
  const rows = await db.$queryRaw<{ concession: Concession }[]>`
    SELECT ${CONCESSION_JSON} AS concession FROM concessions c WHERE c.entry_id = ${where.entryId}::uuid ORDER BY c.id`;
  return countingConcessions(
    rows.map((row) => row.concession),
    where,
  );
}

/** Conditions with their ids and with due times in UTC. */
export const newConditions = (given: readonly Omit<OpenCondition, 'id'>[]): OpenCondition[] =>
  given.map(({ text, dueAt, recheck }) => ({
    id: uuidV7(),
    text,
    ...(dueAt === undefined ? {} : { dueAt: new Date(dueAt).toISOString() }),
    ...(recheck === undefined ? {} : { recheck }),
  }));

/** Conditions of a sign-off as a part of one write. */
export function conditionsPart(signOffId: string, entryId: string, conditions: readonly OpenCondition[]): Prisma.Sql {
  return Prisma.sql`INSERT INTO conditions (id, entry_id, sign_off_id, text, due_at)
    SELECT r.id, ${entryId}::uuid, ${signOffId}::uuid, r.text, r."dueAt"
    FROM jsonb_to_recordset(${JSON.stringify(conditions)}::jsonb) AS r (id uuid, text text, "dueAt" timestamptz)`;
}

/** Writes conditions of a sign-off; returns them with their ids and with due times in UTC. */
export async function insertConditions(
  tx: Tx,
  input: { signOffId: string; entryId: string; conditions: readonly { text: string; dueAt?: string | undefined }[] },
): Promise<OpenCondition[]> {
  const { signOffId, entryId } = input;
  const conditions = newConditions(input.conditions);
  const data = conditions.map((condition) => ({ ...condition, entryId, signOffId, dueAt: condition.dueAt ?? null }));
  await tx.condition.createMany({ data });
  return conditions;
}

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
