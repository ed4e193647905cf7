import { v7 as uuidV7 } from 'uuid';
import type { Actor } from '../../domain/actor.ts';
import type { CarHappening } from '../../domain/clearance/car-happenings.ts';
import type { EntryHappening } from '../../domain/clearance/clearance.ts';
import { WET_SWITCHED } from '../../domain/history/webhook-messages.ts';
import type { Tx } from '../../platform/database/db.ts';
import { DAYS_COLUMNS_SQL, type DaysRow, toDays } from '../../records/what-stands.ts';
import type { ChainTimes, EntryTimeline } from './upload.ts';
import type { Contradiction, UploadedCheck } from './upload-schemas.ts';

export interface CheckRow extends Omit<UploadedCheck, 'askedAt'> {
  askedAt: Date;
  contradicts: string | undefined;
}

export async function hasEvent(db: Tx, eventId: string): Promise<boolean> {
  return (await db.event.count({ where: { id: eventId } })) > 0;
}

interface TimelineRow extends DaysRow {
  carNumber: string;
  runGroupId: string;
  runGroup: string;
  steps: { at: string; event: EntryHappening | null }[];
  carSteps: { at: string; event: CarHappening | null }[];
  wetSteps: { at: string; wet: boolean }[];
}

/** What happened to every entry under these numbers, and to their cars. */
export async function listTimelines(tx: Tx, eventId: string, carNumbers: readonly string[]): Promise<EntryTimeline[]> {
  const rows = await tx.$queryRaw<TimelineRow[]>`
    SELECT e.car_number AS "carNumber", e.run_group_id::text AS "runGroupId", g.name AS "runGroup",
      ${DAYS_COLUMNS_SQL},
      (SELECT jsonb_agg(jsonb_build_object('at', h.at, 'event', h.data->'event') ORDER BY h.seq)
        FROM history h WHERE h.entry_id = e.id) AS steps,
      COALESCE((SELECT jsonb_agg(jsonb_build_object('at', h.at, 'event', h.data->'event') ORDER BY h.seq)
        FROM history h WHERE h.car_id = c.car_id), '[]'::jsonb) AS "carSteps",
      COALESCE((SELECT jsonb_agg(jsonb_build_object('at', h.at, 'wet', h.data->'wet') ORDER BY h.seq)
        FROM history h WHERE h.event_id = e.event_id AND h.entry_id IS NULL AND h.car_id IS NULL
          AND h.action = ${WET_SWITCHED} AND h.data->>'runGroupId' = e.run_group_id::text), '[]'::jsonb) AS "wetSteps"
    FROM entries e JOIN run_groups g ON g.id = e.run_group_id JOIN clearances c ON c.entry_id = e.id
      JOIN events ev ON ev.id = e.event_id JOIN venues ve ON ve.id = ev.venue_id
    WHERE e.event_id = ${eventId}::uuid AND e.car_number = ANY(${[...carNumbers]})
    ORDER BY g.sort_order, e.id`;
  return rows.map(({ carNumber, runGroupId, runGroup, steps, carSteps, wetSteps, ...days }) => ({
    carNumber,
    runGroupId,
    runGroup,
    days: toDays(days),
    steps: steps.map((step) => ({ ...step, at: new Date(step.at) })),
    carSteps: carSteps.map((step) => ({ ...step, at: new Date(step.at) })),
    wetSteps: wetSteps.map((step) => ({ ...step, at: new Date(step.at) })),
  }));
}

/** How many rows of the event's history are sealed, when those of these numbers were written, and when the device got its token. */
export async function readChainTimes(
  tx: Tx,
  { eventId, tokenId, seqs }: { eventId: string; tokenId: string; seqs: readonly number[] },
): Promise<ChainTimes> {
  const { createdAt: deviceSince } = await tx.token.findUniqueOrThrow({
    where: { id: tokenId },
    select: { createdAt: true },
  });
  const tree = await tx.eventTree.findUnique({ where: { eventId }, select: { size: true } });
  const rows = await tx.eventLeaf.findMany({
    where: { eventId, index: { in: seqs.map((seq) => seq - 1) } },
    select: { index: true, history: { select: { at: true } } },
  });
  const writtenAt = new Map(rows.map(({ index, history }) => [index + 1, history.at]));
  return { head: tree?.size ?? 0, deviceSince, writtenAt };
}

/** Keeps the checks that are not known yet; returns their client ids. */
export async function insertChecks(
  tx: Tx,
  checks: readonly CheckRow[],
  by: { eventId: string; actor: Actor; uploadedAt: Date },
): Promise<string[]> {
  // In one order, so that two uploads of the same checks wait for each other instead of deadlocking.
  const data = [...checks]
    .sort((a, b) => (a.clientId < b.clientId ? -1 : 1))
    .map((check) => ({
      id: uuidV7(),
      ...check,
      runGroupId: check.runGroupId ?? null,
      contradicts: check.contradicts ?? null,
      eventId: by.eventId,
      askedBy: by.actor.tokenId,
      askedName: by.actor.name,
      uploadedAt: by.uploadedAt,
    }));
  const rows = await tx.gateCheck.createManyAndReturn({ data, skipDuplicates: true, select: { clientId: true } });
  return rows.flatMap(({ clientId }) => clientId ?? []);
}

/** Uploaded checks that something speaks against, with their ids, which are in the order they came in. */
export async function listContradictions(
  db: Tx,
  eventId: string,
  { after, take }: { after: string | undefined; take: number },
): Promise<{ id: string; view: Contradiction }[]> {
  const rows = await db.gateCheck.findMany({
    where: { eventId, contradicts: { not: null }, ...(after === undefined ? {} : { id: { gt: after } }) },
    orderBy: { id: 'asc' },
    take,
  });
  return rows.map((row) => ({
    id: row.id,
    view: {
      // A row with `contradicts` is an uploaded one, and those have all of these: `insertChecks` writes nothing else.
      clientId: row.clientId as string,
      carNumber: row.carNumber,
      ...(row.runGroupId === null ? {} : { runGroupId: row.runGroupId }),
      askedAt: row.askedAt.toISOString(),
      askedBy: row.askedName,
      admit: row.admit,
      status: row.status as Contradiction['status'],
      snapshotSeq: row.snapshotSeq as number,
      uploadedAt: (row.uploadedAt as Date).toISOString(),
      contradicts: row.contradicts as string,
    },
  }));
}
