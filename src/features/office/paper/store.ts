import type { CarFacts } from '../../../domain/clearance/car-happenings.ts';
import type { ClearanceFacts } from '../../../domain/clearance/clearance.ts';
import type { ClearanceState } from '../../../domain/clearance/decide-clearance.ts';
import type { Vehicle } from '../../../domain/vehicle.ts';
import type { Tx } from '../../../platform/database/db.ts';
import { STATE_COLUMNS_SQL, STATE_JOINS_SQL, type StateRow, toClearanceState } from '../../../records/what-stands.ts';
import { LINE_ORDER } from '../../../records/tickets.ts';

/** The event that a sheet is of. */
export interface EventOfSheet {
  eventId: string;
  name: string;
  startsOn: string;
  endsOn: string;
  timeZone: string;
}

export async function findEventOfSheet(db: Tx, eventId: string): Promise<EventOfSheet | undefined> {
  const [event] = await db.$queryRaw<EventOfSheet[]>`
    SELECT ev.id AS "eventId", ev.name, ev.starts_on::text AS "startsOn", ev.ends_on::text AS "endsOn",
      ve.time_zone AS "timeZone"
    FROM events ev JOIN venues ve ON ve.id = ev.venue_id WHERE ev.id = ${eventId}::uuid`;
  return event;
}

/** An entry as sheets show it. */
export interface EntryOfSheet {
  carNumber: string;
  runGroup: string;
  entrant: string;
  people: readonly { name: string; role: string }[];
  vehicle: Vehicle;
  facts: ClearanceFacts;
  carFacts: CarFacts;
  state: ClearanceState;
  /** of the newest sign-off */
  sticker: string | null;
}

/** Every entry of an event, by number. */
export async function listEntriesOfSheet(db: Tx, eventId: string): Promise<EntryOfSheet[]> {
  const rows = await db.$queryRaw<(StateRow & Omit<EntryOfSheet, 'state'>)[]>`
    SELECT e.car_number AS "carNumber", e.entrant->>'name' AS entrant, e.people, v.record AS vehicle, ${STATE_COLUMNS_SQL},
      (SELECT s.sticker_number FROM sign_offs s WHERE s.entry_id = e.id ORDER BY s.id DESC LIMIT 1) AS sticker
    FROM clearances c JOIN entries e ON e.id = c.entry_id JOIN run_groups g ON g.id = e.run_group_id
      JOIN vehicles v ON v.id = e.vehicle_id ${STATE_JOINS_SQL}
    WHERE c.event_id = ${eventId}::uuid AND e.event_id = ${eventId}::uuid AND k.event_id = ${eventId}::uuid
    ORDER BY length(e.car_number), e.car_number COLLATE "C", g.sort_order, e.id`;
  return rows.map((row) => ({ ...row, state: toClearanceState(row) }));
}

export interface TicketOfSheet {
  carNumber: string;
  runGroup: string;
  vehicle: Vehicle;
  firstSessionAt: Date;
  verdict: string;
  inspector: string | null;
}

/** The line in the order of its turn. */
export async function listLineOfSheet(db: Tx, eventId: string): Promise<TicketOfSheet[]> {
  return db.$queryRaw<TicketOfSheet[]>`
    SELECT e.car_number AS "carNumber", g.name AS "runGroup", v.record AS vehicle, g.first_session_at AS "firstSessionAt",
      i.verdict, k.inspector_name AS inspector
    FROM tickets t JOIN entries e ON e.id = t.entry_id JOIN run_groups g ON g.id = e.run_group_id
      JOIN vehicles v ON v.id = e.vehicle_id JOIN inspections i ON i.id = t.inspection_id
      LEFT JOIN claims k ON k.ticket_id = t.id AND k.ended_at IS NULL AND k.expires_at > now()
    WHERE t.event_id = ${eventId}::uuid AND t.state IN ('waiting', 'claimed')
    ORDER BY ${LINE_ORDER}`;
}

interface OfCar {
  carNumber: string;
  runGroup: string;
}

/** What happened at an event, for its end; each list by time. */
export interface DayOfSheet {
  refusals: (OfCar & { at: Date; by: string; note: string | null })[];
  holds: (OfCar & {
    reason: string;
    at: Date;
    by: string;
    liftedAt: Date | null;
    liftedBy: string | null;
    liftReason: string | null;
  })[];
  exceptions: (OfCar & {
    ruleId: string;
    ruleSetId: string;
    ruleSetVersion: number;
    reason: string;
    expiresAt: Date;
    by: string;
    approvedBy: string | null;
    needsSecondPerson: boolean;
    revokedBy: string | null;
    revokeReason: string | null;
  })[];
  conditions: (OfCar & { text: string; dueAt: Date | null })[];
  contradictions: { carNumber: string; at: Date; by: string; status: string; contradicts: string }[];
  /** of the sealed tree; absent before anything was sealed */
  head: { size: number; root: string } | undefined;
  unsealed: number;
}

export async function readDay(db: Tx, eventId: string): Promise<DayOfSheet> {
  const refusals = await db.$queryRaw<DayOfSheet['refusals']>`
    SELECT e.car_number AS "carNumber", g.name AS "runGroup", s.signed_at AS at, s.signed_name AS by, s.note
    FROM sign_offs s JOIN entries e ON e.id = s.entry_id JOIN run_groups g ON g.id = e.run_group_id
    WHERE s.event_id = ${eventId}::uuid AND s.decision = 'refuse' ORDER BY s.signed_at, s.id`;
  const holds = await db.$queryRaw<DayOfSheet['holds']>`
    SELECT e.car_number AS "carNumber", g.name AS "runGroup", h.reason, h.placed_at AS at, h.placed_name AS by,
      h.lifted_at AS "liftedAt", h.lifted_name AS "liftedBy", h.lift_reason AS "liftReason"
    FROM entries e JOIN holds h ON h.entry_id = e.id JOIN run_groups g ON g.id = e.run_group_id
    WHERE e.event_id = ${eventId}::uuid ORDER BY h.placed_at, h.id`;
  const exceptions = await db.$queryRaw<DayOfSheet['exceptions']>`
    SELECT e.car_number AS "carNumber", g.name AS "runGroup", x.rule_id AS "ruleId", x.rule_set_id AS "ruleSetId",
      x.rule_set_version AS "ruleSetVersion", x.reason, x.expires_at AS "expiresAt", x.granted_name AS by,
      x.approved_name AS "approvedBy", x.needs_second_person AS "needsSecondPerson", x.revoked_name AS "revokedBy",
      x.revoke_reason AS "revokeReason"
    FROM entries e JOIN concessions x ON x.entry_id = e.id JOIN run_groups g ON g.id = e.run_group_id
    WHERE e.event_id = ${eventId}::uuid ORDER BY x.granted_at, x.id`;
  const conditions = await db.$queryRaw<DayOfSheet['conditions']>`
    SELECT e.car_number AS "carNumber", g.name AS "runGroup", n.text, n.due_at AS "dueAt"
    FROM entries e JOIN conditions n ON n.entry_id = e.id JOIN run_groups g ON g.id = e.run_group_id
    WHERE e.event_id = ${eventId}::uuid AND n.done_at IS NULL ORDER BY n.due_at NULLS LAST, n.id`;
  const contradictions = await db.$queryRaw<DayOfSheet['contradictions']>`
    SELECT car_number AS "carNumber", asked_at AS at, asked_name AS by, status, contradicts
    FROM gate_checks WHERE event_id = ${eventId}::uuid AND contradicts IS NOT NULL ORDER BY asked_at, id`;
  const tree = await db.eventTree.findUnique({ where: { eventId }, select: { size: true, root: true } });
  const [waiting] = await db.$queryRaw<{ count: number }[]>`
    SELECT count(*)::int AS count FROM unsealed_history u WHERE u.event_id = ${eventId}::uuid`;
  const head = tree === null ? undefined : { size: tree.size, root: Buffer.from(tree.root).toString('hex') };
  return { refusals, holds, exceptions, conditions, contradictions, head, unsealed: waiting?.count ?? 0 };
}

/** What an entry last said: submitted, or else saved; undefined where nothing is. */
export interface SaidAnswers {
  answers: Readonly<Record<string, unknown>>;
  submitted: { by: string; at: Date; revision: number } | undefined;
}

export async function findSaidAnswers(db: Tx, entryId: string): Promise<SaidAnswers | undefined> {
  const submitted = await db.inspection.findFirst({
    where: { entryId },
    orderBy: { revision: 'desc' },
    select: { answers: true, submittedName: true, submittedAt: true, revision: true },
  });
  // Both columns are written from parsed answers only.
  type Stored = SaidAnswers['answers'];
  if (submitted !== null) {
    const { answers, submittedName: by, submittedAt: at, revision } = submitted;
    return { answers: answers as Stored, submitted: { by, at, revision } };
  }
  const draft = await db.draft.findUnique({ where: { entryId }, select: { answers: true } });
  return draft === null ? undefined : { answers: draft.answers as Stored, submitted: undefined };
}

/** The entrant as the sheet of his car names him. */
export async function findEntrantName(db: Tx, entryId: string): Promise<string> {
  const [row] = await db.$queryRaw<{ name: string | null }[]>`
    SELECT entrant->>'name' AS name FROM entries WHERE id = ${entryId}::uuid`;
  return row?.name ?? '';
}
