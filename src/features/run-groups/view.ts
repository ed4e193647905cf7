import { isOnEventDay } from './check.ts';
import type { RunGroupView } from './schemas.ts';
import type { EventFrame, StoredRunGroup } from './store.ts';

export function toRunGroupView({ rev: _rev, ...group }: StoredRunGroup, event: EventFrame): RunGroupView {
  return {
    ...group,
    firstSessionAt: group.firstSessionAt.toISOString(),
    firstSessionOnEventDay: isOnEventDay(group.firstSessionAt, event),
    createdAt: group.createdAt.toISOString(),
  };
}
