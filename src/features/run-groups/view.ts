import { isOnEventDay } from './check.ts';
import type { RunGroupView } from './schemas.ts';
import type { EventFrame, RunGroupData, StoredRunGroup } from './store.ts';

export function toRunGroupView(stored: StoredRunGroup, event: EventFrame): RunGroupView {
  const { rev: _rev, venueOverlay: _venue, resolvedHash: rulesHash, ...group } = stored;
  return {
    ...group,
    rulesHash,
    firstSessionAt: group.firstSessionAt.toISOString(),
    firstSessionOnEventDay: isOnEventDay(group.firstSessionAt, event),
    createdAt: group.createdAt.toISOString(),
  };
}

/** What stands in the history of the event; `resolvedHash` covers the effects, rules and venue's changes of the group. */
export function inHistory(group: RunGroupData) {
  const { name, order, firstSessionAt, ruleSetId, ruleSetVersion, parameters, resolvedHash } = group;
  const session = firstSessionAt.toISOString();
  return { name, order, firstSessionAt: session, ruleSetId, ruleSetVersion, parameters, resolvedHash };
}
