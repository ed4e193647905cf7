import { type ToldAt, toldAt } from '../../records/tickets.ts';
import { v7 as uuidV7 } from 'uuid';
import { NOTHING_WRONG } from '../../domain/clearance/car-happenings.ts';
import type { ClearanceFacts } from '../../domain/clearance/clearance.ts';
import type { OutingEntry } from '../../domain/log/best-outing.ts';
import type { Tx } from '../../platform/database/db.ts';

/** The newest revision of a car at one event, with what the line measured of it. */
export interface RecordRow {
  eventId: string;
  event: string;
  startsOn: string;
  endsOn: string;
  entryId: string;
  carNumber: string;
  inspectionId: string;
  submittedAt: Date;
  answers: Record<string, unknown>;
  /** the baseline of the vehicle record as it was then */
  baseline: Record<string, unknown> | null;
  decision: string | null;
  checks: readonly { item: string; position?: string; value?: unknown }[] | null;
}

/** The record of a car; undefined when there is no such vehicle. */
export async function findVehicleRecord(db: Tx, vehicleId: string): Promise<Record<string, unknown> | undefined> {
  const row = await db.vehicle.findUnique({ where: { id: vehicleId }, select: { record: true } });
  return row === null ? undefined : (row.record as Record<string, unknown>);
}

export async function isVehicleOfEntry(db: Tx, vehicleId: string, entryId: string): Promise<boolean> {
  return (await db.entry.count({ where: { id: entryId, vehicleId } })) > 0;
}

/** What was declared and measured per event, newest event first. An event without a submitted declaration has none. */
export async function listRecords(db: Tx, vehicleId: string): Promise<RecordRow[]> {
  return db.$queryRaw<RecordRow[]>`
    SELECT * FROM (
      SELECT DISTINCT ON (e.event_id) e.event_id AS "eventId", ev.name AS event,
             to_char(ev.starts_on, 'YYYY-MM-DD') AS "startsOn", to_char(ev.ends_on, 'YYYY-MM-DD') AS "endsOn",
             e.id AS "entryId", e.car_number AS "carNumber", i.id AS "inspectionId", i.submitted_at AS "submittedAt",
             i.answers, i.vehicle->'baseline' AS baseline, s.decision, s.checks
      FROM entries e
      JOIN events ev ON ev.id = e.event_id
      JOIN inspections i ON i.entry_id = e.id
      LEFT JOIN LATERAL (
        SELECT decision, checks FROM sign_offs WHERE inspection_id = i.id ORDER BY signed_at DESC, id DESC LIMIT 1
      ) s ON true
      WHERE e.vehicle_id = ${vehicleId}::uuid
      ORDER BY e.event_id, i.submitted_at DESC, i.id DESC
    ) r
    ORDER BY r."startsOn" DESC, r."eventId" DESC`;
}

/** What was written down after sessions with the car, of every event. */
export async function listOutings(db: Tx, vehicleId: string): Promise<(OutingEntry & { eventId: string })[]> {
  const rows = await db.sessionLog.findMany({
    where: { entry: { vehicleId } },
    select: {
      entryId: true,
      session: true,
      at: true,
      content: true,
      writtenName: true,
      entry: { select: { eventId: true } },
    },
    orderBy: { id: 'asc' },
  });
  return rows.map(({ content, entry, at, ...row }) => ({
    ...row,
    // written by the log only, from typed values
    ...(content as unknown as Pick<OutingEntry, 'laps' | 'bestLapSeconds' | 'cells' | 'symptoms' | 'note'>),
    at: at.toISOString(),
    eventId: entry.eventId,
  }));
}

/** The row of a car at an event; made with its first entry. What is said of the car stays as it is until the commit. */
export async function carOf(tx: Tx, eventId: string, vehicleId: string): Promise<string> {
  const carId = await ensureCar(tx, eventId, vehicleId);
  await tx.$queryRaw`SELECT id FROM car_clearances WHERE id = ${carId}::uuid FOR SHARE`;
  return carId;
}

/** The same without a lock. */
export async function ensureCar(tx: Tx, eventId: string, vehicleId: string): Promise<string> {
  await tx.$executeRaw`
    INSERT INTO car_clearances (id, event_id, vehicle_id, facts)
    VALUES (${uuidV7()}::uuid, ${eventId}::uuid, ${vehicleId}::uuid, ${JSON.stringify(NOTHING_WRONG)}::jsonb)
    ON CONFLICT (event_id, vehicle_id) DO NOTHING`;
  const [car] = await tx.$queryRaw<{ id: string }[]>`
    SELECT id FROM car_clearances WHERE event_id = ${eventId}::uuid AND vehicle_id = ${vehicleId}::uuid`;
  if (car === undefined) throw new Error('a car that was just entered is not there');
  return car.id;
}

/** Locks two cars of an event for a change, in the order of their ids. */
export async function lockCarsForSwap(tx: Tx, eventId: string, vehicleIds: readonly string[]): Promise<void> {
  await tx.$queryRaw`
    SELECT id FROM car_clearances WHERE event_id = ${eventId}::uuid AND vehicle_id = ANY (${[...vehicleIds]}::uuid[])
    ORDER BY id FOR NO KEY UPDATE`;
}

/** Entries of a car at an event. */
export async function listEntriesOfCar(tx: Tx, eventId: string, vehicleId: string): Promise<string[]> {
  const rows = await tx.entry.findMany({ where: { eventId, vehicleId }, select: { id: true }, orderBy: { id: 'asc' } });
  return rows.map((row) => row.id);
}

/** Gives entries another car. */
export async function moveToCar(
  tx: Tx,
  entryIds: readonly string[],
  to: { carId: string; vehicleId: string },
): Promise<void> {
  const ids = [...entryIds];
  await tx.entry.updateMany({ where: { id: { in: ids } }, data: { vehicleId: to.vehicleId, rev: { increment: 1 } } });
  await tx.clearance.updateMany({ where: { entryId: { in: ids } }, data: { carId: to.carId } });
}

/** What a calendar tells beside the times of the run group. */
interface Planned {
  /** name of the event */
  event: string;
  /** what the gate knows of the entry */
  facts: ClearanceFacts;
  /** while the car waits at the line */
  told: ToldAt | undefined;
}

/** What is read of a told time, and whether the car waits. */
const TOLD = {
  lineTime: { select: { at: true, lane: true } },
  tickets: { where: { state: { in: ['waiting', 'claimed'] } }, select: { id: true } },
};

const toldOf = (entry: { lineTime: { at: Date; lane: number | null } | null; tickets: readonly unknown[] }) =>
  entry.tickets.length === 0 ? undefined : toldAt(entry.lineTime?.at ?? null, entry.lineTime?.lane ?? null);

/** Undefined when there is no such entry. */
export async function findPlanned(db: Tx, entryId: string): Promise<Planned | undefined> {
  const select = { facts: true, entry: { select: { event: { select: { name: true } }, ...TOLD } } };
  const row = await db.clearance.findUnique({ where: { entryId }, select });
  if (row === null) return undefined;
  // written by the fold of the history only
  const facts = row.facts as unknown as ClearanceFacts;
  return { event: row.entry.event.name, facts, told: toldOf(row.entry) };
}

/** What a countdown reads beside what judges the entry. */
export interface CountdownRow {
  /** name of the event */
  event: string;
  /** what the gate knows of the entry */
  facts: ClearanceFacts;
  /** while the car waits at the line */
  told: ToldAt | undefined;
  /** answers of the draft, the newest that anybody gave */
  answers: Record<string, unknown>;
  /** cells of what was read of pads and tyres after sessions, oldest first */
  worn: readonly { session: string | null; cells: Readonly<Record<string, unknown>> }[];
}

/** Undefined when there is no such entry. */
export async function findCountdown(db: Tx, entryId: string): Promise<CountdownRow | undefined> {
  const row = await db.clearance.findUnique({
    where: { entryId },
    select: {
      facts: true,
      entry: {
        select: {
          event: { select: { name: true } },
          ...TOLD,
          draft: { select: { answers: true } },
          log: {
            where: { kind: { in: ['pads', 'tread'] } },
            orderBy: [{ at: 'asc' }, { id: 'asc' }],
            select: { session: true, content: true },
          },
        },
      },
    },
  });
  if (row === null) return undefined;
  const { event, draft, log } = row.entry;
  return {
    event: event.name,
    told: toldOf(row.entry),
    // written by the fold of the history only
    facts: row.facts as unknown as ClearanceFacts,
    answers: (draft?.answers ?? {}) as Record<string, unknown>,
    worn: log.map(({ session, content }) => ({ session, cells: cellsIn(content) })),
  };
}

/** Written by the log of the entry, from typed values. */
function cellsIn(content: unknown): Readonly<Record<string, unknown>> {
  const { cells } = content as { cells?: Record<string, unknown> };
  return cells ?? {};
}
