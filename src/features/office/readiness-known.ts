import type { EventState, ReadyEntry } from './readiness-store.ts';

/** What readiness is told from. */
export interface Known {
  event: EventState;
  entries: readonly ReadyEntry[];
  now: Date;
}

/** An entry as every list names it. */
export function carOf({ groups }: EventState, { entryId, carNumber, runGroupId }: ReadyEntry) {
  const runGroup = groups.find((group) => group.runGroupId === runGroupId)?.name ?? '';
  return { entryId, carNumber, runGroupId, runGroup };
}

/** Entries that were not withdrawn. */
export function standing(entries: readonly ReadyEntry[]): ReadyEntry[] {
  return entries.filter(({ facts }) => !facts.withdrawn);
}
