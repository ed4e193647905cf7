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
