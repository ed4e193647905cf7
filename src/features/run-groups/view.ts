import { isOnEventDay } from './check.ts';
import type { RunGroupView } from './schemas.ts';
import type { EventFrame, StoredRunGroup } from './store.ts';

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
