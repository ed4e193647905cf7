import type { ParameterOverride } from '../../domain/rules/model/rule-set.ts';
import { EMPTY_OVERLAY, Overlay } from '../../domain/rules/overlay/overlay.ts';
import { canonicalJson } from '../../platform/canonical-json.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { Prisma } from '../../platform/prisma-client/client.ts';

/** What a run group is judged by, and what its venue changes today. */
export interface GroupRules {
  ruleSetId: string;
  ruleSetVersion: number;
  resolvedHash: string | null;
  parameters: Record<string, ParameterOverride>;
  /** the venue's changes as the group took them; null: none */
  taken: Overlay | null;
  /** the venue's changes today; null: none */
  today: Overlay | null;
}

export async function findGroupRules(db: Tx, runGroupId: string): Promise<GroupRules | undefined> {
  const row = await db.runGroup.findUnique({
    where: { id: runGroupId },
    include: { event: { select: { venueId: true } } },
  });
  if (row === null) return undefined;
  const { ruleSetId, ruleSetVersion, resolvedHash } = row;
  const where = { venueId_ruleSetId: { venueId: row.event.venueId, ruleSetId } };
  const today = await db.venueOverlay.findUnique({ where });
  // written by the run-group and venue-overlay stores only, from checked values
  const { venue } = row.overlay as unknown as { venue?: Overlay | null };
  return {
    ruleSetId,
    ruleSetVersion,
    resolvedHash,
    parameters: row.parameters as Record<string, ParameterOverride>,
    taken: venue ?? null,
    today: today === null ? null : { ...EMPTY_OVERLAY, ...Overlay.parse(today.overlay) },
  };
}

/** Who last set a limit of a run group to another value, and when. */
export interface LastChange {
  by: string;
  at: string;
}

type Values = Readonly<Record<string, unknown>>;
interface Row {
  at: Date;
  actor_name: string;
  data: { from?: { parameters?: Values }; to?: { parameters?: Values } };
}

/** By name of the limit, from the history of the event; a group that was made with it has no row for it. */
export async function findLastChanges(db: Tx, runGroupId: string): Promise<Map<string, LastChange>> {
  const rows = await db.$queryRaw<Row[]>`
    SELECT h.at, h.actor_name, h.data FROM history h JOIN run_groups g ON g.event_id = h.event_id
    WHERE g.id = ${runGroupId}::uuid AND h.entry_id IS NULL AND h.car_id IS NULL AND h.action = 'run-group.changed'
      AND h.data->>'runGroupId' = ${runGroupId} AND h.data->'to' ? 'parameters'
    ORDER BY h.seq`;
  const changes = new Map<string, LastChange>();
  for (const { at, actor_name: by, data } of rows) {
    const [was, is] = [data.from?.parameters ?? {}, data.to?.parameters ?? {}];
    for (const name of new Set([...Object.keys(was), ...Object.keys(is)])) {
      const same = canonicalJson(was[name] ?? null) === canonicalJson(is[name] ?? null);
      if (!same) changes.set(name, { by, at: at.toISOString() });
    }
  }
  return changes;
}

export interface StoredOverlay {
  venueId: string;
  ruleSetId: string;
  overlay: Overlay;
  rev: number;
  updatedAt: Date;
}

interface OverlayRow {
  venueId: string;
  ruleSetId: string;
  overlay: Prisma.JsonValue;
  rev: number;
  updatedAt: Date;
}

const toStoredOverlay = (row: OverlayRow): StoredOverlay => ({
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
  return (await db.venueOverlay.findMany({ where: { venueId }, orderBy: { ruleSetId: 'asc' } })).map(toStoredOverlay);
}

export async function findOverlay(db: Tx, venueId: string, ruleSetId: string): Promise<StoredOverlay | undefined> {
  const row = await db.venueOverlay.findUnique({ where: { venueId_ruleSetId: { venueId, ruleSetId } } });
  return row === null ? undefined : toStoredOverlay(row);
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
  return rows[0] === undefined ? undefined : toStoredOverlay(rows[0]);
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
