import { EMPTY_OVERLAY, Overlay } from '../../domain/rules/overlay/overlay.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { Prisma } from '../../platform/prisma-client/client.ts';

export interface StoredOverlay {
  venueId: string;
  ruleSetId: string;
  overlay: Overlay;
  rev: number;
  updatedAt: Date;
}

interface Row {
  venueId: string;
  ruleSetId: string;
  overlay: Prisma.JsonValue;
  rev: number;
  updatedAt: Date;
}

const toStored = (row: Row): StoredOverlay => ({
  ...row,
  overlay: { ...EMPTY_OVERLAY, ...Overlay.parse(row.overlay) },
});
const json = (overlay: Overlay) => overlay as unknown as Prisma.InputJsonObject;

export async function venueExists(db: Tx, venueId: string): Promise<boolean> {
  return (await db.venue.count({ where: { id: venueId } })) > 0;
}

/** The newest published version that is not retired, as its JSON; undefined when there is none. */
export async function findNewestVersion(
  db: Tx,
  ruleSetId: string,
): Promise<{ version: number; document: string } | undefined> {
  const rows = await db.$queryRaw<{ version: number; document: string }[]>`
    SELECT v.version, v.document::text AS document FROM rule_set_versions v
    WHERE v.rule_set_id = ${ruleSetId}::uuid AND NOT EXISTS (
      SELECT 1 FROM rule_set_retirements r WHERE r.rule_set_id = v.rule_set_id AND r.version = v.version)
    ORDER BY v.version DESC LIMIT 1`;
  return rows[0];
}

export async function listOverlays(db: Tx, venueId: string): Promise<StoredOverlay[]> {
  return (await db.venueOverlay.findMany({ where: { venueId }, orderBy: { ruleSetId: 'asc' } })).map(toStored);
}

export async function findOverlay(db: Tx, venueId: string, ruleSetId: string): Promise<StoredOverlay | undefined> {
  const row = await db.venueOverlay.findUnique({ where: { venueId_ruleSetId: { venueId, ruleSetId } } });
  return row === null ? undefined : toStored(row);
}

/** Writes the overlay if it still has the version `rev` (0: none is there yet); undefined when it has moved on. */
export async function saveOverlay(
  db: Tx,
  ids: { venueId: string; ruleSetId: string },
  rev: number,
  overlay: Overlay,
  at: Date,
): Promise<StoredOverlay | undefined> {
  if (rev === 0) {
    const data = { ...ids, overlay: json(overlay), updatedAt: at };
    const created = await db.venueOverlay.createMany({ data, skipDuplicates: true });
    return created.count === 0 ? undefined : { ...ids, overlay, rev: 1, updatedAt: at };
  }
  const rows = await db.venueOverlay.updateManyAndReturn({
    where: { ...ids, rev },
    data: { overlay: json(overlay), updatedAt: at, rev: { increment: 1 } },
  });
  return rows[0] === undefined ? undefined : toStored(rows[0]);
}

/** Takes the overlay away if it still has the version `rev`; returns whether it did. */
export async function deleteOverlay(
  db: Tx,
  ids: { venueId: string; ruleSetId: string },
  rev: number,
): Promise<boolean> {
  return (await db.venueOverlay.deleteMany({ where: { ...ids, rev } })).count === 1;
}

/** The events at the venue that are not over and that have a run group with the rule set. */
export async function listConcerned(db: Tx, ids: { venueId: string; ruleSetId: string }, now: Date): Promise<string[]> {
  const rows = await db.$queryRaw<{ id: string }[]>`
    SELECT e.id::text AS id FROM events e JOIN venues v ON v.id = e.venue_id
    WHERE e.venue_id = ${ids.venueId}::uuid AND (e.ends_on + 1)::timestamp AT TIME ZONE v.time_zone > ${now}::timestamptz
      AND EXISTS (SELECT 1 FROM run_groups g WHERE g.event_id = e.id AND g.rule_set_id = ${ids.ruleSetId}::uuid)`;
  return rows.map(({ id }) => id);
}
