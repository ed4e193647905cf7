import type { ParameterOverride } from '../../domain/rules/model/rule-set.ts';
import { EMPTY_OVERLAY, Overlay } from '../../domain/rules/overlay/overlay.ts';
import { canonicalJson } from '../../platform/canonical-json.ts';
import type { Tx } from '../../platform/database/db.ts';

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
