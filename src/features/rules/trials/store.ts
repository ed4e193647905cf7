import type { ParameterOverride } from '../../../domain/rules/model/rule-set.ts';
import type { GroupOverlay, Overlay } from '../../../domain/rules/overlay/overlay.ts';
import type { RuleLayer } from '../../../domain/rules/overlay/resolve.ts';
import type { Tx } from '../../../platform/database/db.ts';

/** The rules that a trial tries, frozen when it was asked for. A version never changes, so its number is enough. */
export type Tried =
  | { kind: 'draft'; contentHash: string; document: unknown }
  | { kind: 'version'; contentHash: string; version: number };

/** What a trial was asked for: written into its task, so that later changes of the draft do not reach it. */
export interface TrialRequest {
  eventIds: readonly string[];
  tried: Tried;
}

export async function findDraft(db: Tx, ruleSetId: string): Promise<{ document: unknown } | undefined> {
  const row = await db.ruleSet.findUnique({ where: { id: ruleSetId }, select: { draft: true } });
  return row === null ? undefined : { document: row.draft };
}

export async function findVersion(
  db: Tx,
  ruleSetId: string,
  version: number,
): Promise<{ document: unknown; contentHash: string } | undefined> {
  const row = await db.ruleSetVersion.findUnique({ where: { ruleSetId_version: { ruleSetId, version } } });
  return row === null ? undefined : { document: row.document, contentHash: row.contentHash };
}

/** Which of these events exist. */
export async function findEvents(db: Tx, eventIds: readonly string[]): Promise<Set<string>> {
  const rows = await db.event.findMany({ where: { id: { in: [...eventIds] } }, select: { id: true } });
  return new Set(rows.map((row) => row.id));
}

export interface TrialRunGroup {
  eventId: string;
  runGroupId: string;
  name: string;
  /** what its venue and it change in their rule set */
  layers: readonly RuleLayer[];
}

interface GroupColumns {
  own?: GroupOverlay;
  venue?: Overlay | null;
}

/** The run groups of events with what they and their venues change in their rules. */
export async function listRunGroups(db: Tx, eventIds: readonly string[]): Promise<TrialRunGroup[]> {
  const rows = await db.runGroup.findMany({
    where: { eventId: { in: [...eventIds] } },
    select: { id: true, eventId: true, name: true, parameters: true, overlay: true },
    orderBy: [{ eventId: 'asc' }, { sortOrder: 'asc' }, { name: 'asc' }],
  });
  return rows.map(({ id, parameters, overlay, ...row }) => {
    // both columns are written from checked values; groups from before overlays have `{}`
    const { own = { effects: {}, rules: [] }, venue } = overlay as GroupColumns;
    const group = { ...own, parameters: parameters as Record<string, ParameterOverride> };
    const layers: RuleLayer[] = [
      ...(venue ? [{ from: 'venue' as const, overlay: venue }] : []),
      { from: 'run-group', overlay: group },
    ];
    return { ...row, runGroupId: id, layers };
  });
}

/** Since when a locked entry has waited on the line; undefined when it does not. */
export async function findQueuedAt(tx: Tx, entryId: string): Promise<Date | undefined> {
  const where = { entryId, state: { in: ['waiting', 'claimed'] } };
  return (await tx.ticket.findFirst({ where, select: { queuedAt: true } }))?.queuedAt;
}

/** The run group with the hash of the rules that judge it; undefined when the event has no such group. */
export async function findGroup(
  db: Tx,
  ids: { eventId: string; runGroupId: string },
): Promise<{ resolvedHash: string | null } | undefined> {
  const where = { id: ids.runGroupId, eventId: ids.eventId };
  return (await db.runGroup.findUnique({ where, select: { resolvedHash: true } })) ?? undefined;
}

/** Entries of a run group that a task has not come to yet, by car number. */
export async function listOpenEntries(db: Tx, runGroupId: string, taskId: string): Promise<string[]> {
  const rows = await db.$queryRaw<{ id: string }[]>`
    SELECT e.id FROM entries e
    WHERE e.run_group_id = ${runGroupId}::uuid
      AND NOT EXISTS (SELECT 1 FROM task_items i WHERE i.task_id = ${taskId}::uuid AND i.item_id = e.id)
    ORDER BY e.car_number, e.id`;
  return rows.map((row) => row.id);
}

/** How many entries a task has come to. */
export function countDone(db: Tx, taskId: string): Promise<number> {
  return db.taskItem.count({ where: { taskId } });
}
