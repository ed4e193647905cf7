import type { ClearanceState } from '../../../domain/clearance/decide-clearance.ts';
import type { Tx } from '../../../platform/database/db.ts';
import { STATE_COLUMNS_SQL, STATE_JOINS_SQL, type StateRow, toClearanceState } from '../../../records/what-stands.ts';

/** A run group as far as the state of the track goes. */
export interface TrackRow {
  runGroupId: string;
  name: string;
  /** null: it is dry */
  wetSince: Date | null;
  wetName: string | null;
}

const COLUMNS = { id: true, name: true, wetSince: true, wetName: true } as const;

export async function findTrack(db: Tx, ids: { eventId: string; runGroupId: string }): Promise<TrackRow | undefined> {
  const row = await db.runGroup.findUnique({ where: { id: ids.runGroupId, eventId: ids.eventId }, select: COLUMNS });
  if (row === null) return undefined;
  const { id: runGroupId, ...track } = row;
  return { runGroupId, ...track };
}

/** Says that the track is wet from an instant on, and who says so; null: that it is dry. */
export async function writeTrack(
  db: Tx,
  runGroupId: string,
  wet: { since: Date; by: string; name: string } | null,
): Promise<void> {
  const data = { wetSince: wet?.since ?? null, wetBy: wet?.by ?? null, wetName: wet?.name ?? null };
  await db.runGroup.update({ where: { id: runGroupId }, data });
}

/** An entry of a run group with what decides its clearance. */
export interface TrackEntry {
  entryId: string;
  carNumber: string;
  state: ClearanceState;
}

/** By car number. */
export async function listTrackEntries(db: Tx, runGroupId: string): Promise<TrackEntry[]> {
  const rows = await db.$queryRaw<(StateRow & { entryId: string; carNumber: string })[]>`
    SELECT c.entry_id AS "entryId", c.car_number AS "carNumber", ${STATE_COLUMNS_SQL}
    FROM clearances c JOIN entries e ON e.id = c.entry_id JOIN run_groups g ON g.id = e.run_group_id ${STATE_JOINS_SQL}
    WHERE e.run_group_id = ${runGroupId}::uuid
    ORDER BY length(c.car_number), c.car_number COLLATE "C"`;
  return rows.map((row) => ({ entryId: row.entryId, carNumber: row.carNumber, state: toClearanceState(row) }));
}
