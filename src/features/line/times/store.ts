import type { ClearanceFacts } from '../../../domain/clearance/clearance.ts';
import type { MeasuredCar } from '../../../domain/line/minutes-per-car.ts';
import type { Timetable } from '../../../domain/log/timetable.ts';
import type { Pool, Tx } from '../../../platform/database/db.ts';
import { Prisma } from '../../../platform/prisma-client/client.ts';

/** When people inspect, one after the other; how long a car takes, where somebody says so. */
export interface LineSettings {
  shifts: { from: string; to: string; inspectors: number }[];
  minutesPerCar?: number | undefined;
}

/** An event as far as times at its line go. */
export interface LineEvent {
  timeZone: string;
  isCancelled: boolean;
  firstSessions: Date[];
  /** null: nobody has planned yet */
  settings: LineSettings | null;
  plannedAt: Date | null;
  plannedBy: string | null;
}

export async function findLineEvent(db: Tx, eventId: string): Promise<LineEvent | undefined> {
  const row = await db.event.findUnique({
    where: { id: eventId },
    select: {
      cancelledAt: true,
      venue: { select: { timeZone: true } },
      runGroups: { select: { firstSessionAt: true } },
      linePlan: { select: { settings: true, plannedAt: true, plannedName: true } },
    },
  });
  if (row === null) return undefined;
  return {
    timeZone: row.venue.timeZone,
    isCancelled: row.cancelledAt !== null,
    firstSessions: row.runGroups.map(({ firstSessionAt }) => firstSessionAt),
    // written from parsed ones only
    settings: (row.linePlan?.settings ?? null) as unknown as LineSettings | null,
    plannedAt: row.linePlan?.plannedAt ?? null,
    plannedBy: row.linePlan?.plannedName ?? null,
  };
}

/** An entry that is not withdrawn, with where it stands at the line. */
export interface LineCarRow {
  entryId: string;
  carNumber: string;
  runGroup: string;
  firstSessionAt: Date;
  sessions: Timetable;
  facts: ClearanceFacts;
  onLine: boolean;
  /** findings of its declaration that ask for a look */
  points: number;
  notHereAt: Date | null;
  /** of a lease that runs, by the clock of the database */
  claimedAt: Date | null;
  at: Date | null;
  lane: number | null;
  saidAt: Date | null;
  isMoved: boolean | null;
}

/** Findings of a declaration (`i`, which may be none) that ask for a look. */
const POINTS = Prisma.sql`(SELECT count(*)::int FROM jsonb_array_elements(COALESCE(i.findings, '[]')) f
  WHERE f->>'counts' = 'inspect')`;

/** In the order in which they came to the line; those that are not on it come last. */
export async function listLineCars(db: Tx, eventId: string): Promise<LineCarRow[]> {
  return db.$queryRaw<LineCarRow[]>`
    SELECT e.id AS "entryId", e.car_number AS "carNumber", g.name AS "runGroup", g.first_session_at AS "firstSessionAt",
           g.sessions, c.facts, t.id IS NOT NULL AS "onLine", t.not_here_at AS "notHereAt", k.claimed_at AS "claimedAt",
           ${POINTS} AS points,
           lt.at, lt.lane, lt.said_at AS "saidAt", lt.is_moved AS "isMoved"
    FROM entries e
    JOIN run_groups g ON g.id = e.run_group_id
    JOIN clearances c ON c.entry_id = e.id
    LEFT JOIN tickets t ON t.event_id = e.event_id AND t.entry_id = e.id AND t.state IN ('waiting', 'claimed')
    LEFT JOIN inspections i ON i.id = t.inspection_id
    LEFT JOIN claims k ON k.ticket_id = t.id AND k.ended_at IS NULL AND k.expires_at > now()
    LEFT JOIN line_times lt ON lt.entry_id = e.id
    WHERE e.event_id = ${eventId}::uuid AND c.event_id = ${eventId}::uuid
    ORDER BY t.queued_at NULLS LAST, e.id`;
}

/** Decisions that minutes are learned from: the newest, at whatever event of this server. */
const MOST_MEASURED = 600;

/** What cars took from claim to sign-off. */
export async function listMeasured(db: Tx): Promise<MeasuredCar[]> {
  return db.$queryRaw<MeasuredCar[]>`
    SELECT extract(epoch FROM s.signed_at - k.claimed_at)::float8 / 60 AS minutes, g.name AS "group",
           ${POINTS} AS points
    FROM (SELECT * FROM sign_offs ORDER BY id DESC LIMIT ${MOST_MEASURED}) s
    JOIN claims k ON k.id = s.claim_id
    JOIN inspections i ON i.id = s.inspection_id
    JOIN entries e ON e.id = s.entry_id
    JOIN run_groups g ON g.id = e.run_group_id
    WHERE s.signed_at > k.claimed_at`;
}

export async function keepPlan(
  tx: Tx,
  eventId: string,
  plan: { settings: LineSettings; by: string; name: string; at: Date },
): Promise<void> {
  const data = {
    settings: JSON.parse(JSON.stringify(plan.settings)) as object,
    plannedBy: plan.by,
    plannedName: plan.name,
    plannedAt: plan.at,
  };
  await tx.linePlan.upsert({ where: { eventId }, create: { eventId, ...data }, update: data });
}

/** A time as it is told from now on; `messageId` where a message about it is ordered. */
export interface NewTime {
  entryId: string;
  at: Date;
  lane: number | null;
  messageId: string | null;
  isMoved: boolean;
}

/** Writes told times of cars that still wait: one that was decided on meanwhile gets none. */
export async function keepTimes(tx: Tx, eventId: string, times: readonly NewTime[], now: Date): Promise<void> {
  const rows = times.map(({ at, ...time }) => ({ ...time, at: at.toISOString() }));
  await tx.$executeRaw`
    INSERT INTO line_times AS lt (entry_id, event_id, at, lane, told_at, message_id, said_at, is_moved)
    SELECT r."entryId", ${eventId}::uuid, r.at, r.lane, ${now}, r."messageId",
           CASE WHEN r."messageId" IS NULL THEN NULL ELSE r.at END, r."isMoved"
    FROM jsonb_to_recordset(${JSON.stringify(rows)}::jsonb)
      AS r ("entryId" uuid, at timestamptz, lane int, "messageId" uuid, "isMoved" boolean)
    WHERE EXISTS (SELECT 1 FROM tickets t WHERE t.entry_id = r."entryId" AND t.state IN ('waiting', 'claimed'))
    ON CONFLICT (entry_id) DO UPDATE SET at = excluded.at, lane = excluded.lane, told_at = excluded.told_at,
      message_id = COALESCE(excluded.message_id, lt.message_id), said_at = COALESCE(excluded.said_at, lt.said_at),
      is_moved = excluded.is_moved`;
}

/** Takes back the times of all cars of an event but those that are named. */
export async function forgetTimes(tx: Tx, eventId: string, but: readonly string[]): Promise<void> {
  await tx.lineTime.deleteMany({ where: { eventId, entryId: { notIn: [...but] } } });
}

/** Events that were planned and whose line is not over. */
export async function listFollowed(pool: Pool, now: Date): Promise<string[]> {
  const { rows } = await pool.query<{ eventId: string }>(
    `SELECT p.event_id AS "eventId" FROM line_plans p JOIN events ev ON ev.id = p.event_id
     WHERE ev.cancelled_at IS NULL AND EXISTS (
       SELECT 1 FROM jsonb_array_elements(p.settings->'shifts') s WHERE (s->>'to')::timestamptz > $1)
     ORDER BY p.event_id`,
    [now],
  );
  return rows.map(({ eventId }) => eventId);
}
