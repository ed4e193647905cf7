import { EMPTY_OVERLAY, Overlay } from '../../domain/rules/overlay/overlay.ts';
import type { ParameterOverride } from '../../domain/rules/model/rule-set.ts';
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
