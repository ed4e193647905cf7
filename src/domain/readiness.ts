import { CLEARANCE_STATUSES, type ClearanceFacts, type ClearanceStatus } from './clearance.ts';
import { type ClearanceState, decideClearance } from './decide-clearance.ts';
import { epochMs } from './instant.ts';

/** One entry of an event, as far as its readiness goes. */
export interface EntryState {
  entryId: string;
  carNumber: string;
  runGroupId: string;
  facts: ClearanceFacts;
  state: ClearanceState;
  /** has a live ticket on the line */
  onLine: boolean;
}

export type StatusCounts = Record<ClearanceStatus, number>;

/** How many entries have which status; `groups` by run group id, each entry in exactly one. */
export interface Counted {
  total: number;
  statuses: StatusCounts;
  groups: ReadonlyMap<string, { total: number; statuses: StatusCounts }>;
}

const none = (): StatusCounts => Object.fromEntries(CLEARANCE_STATUSES.map((status) => [status, 0])) as StatusCounts; // every status has its key

/**
 * Counts what the gate says of each entry at an instant. Every entry is counted once, so the statuses of a group add
 * up to its total, and the groups to the event.
 *
 * @param groups ids of all run groups, also of those without an entry
 */
export function countStatuses(entries: readonly EntryState[], groups: readonly string[], now: Date): Counted {
  const byGroup = new Map(groups.map((group) => [group, { total: 0, statuses: none() }]));
  const statuses = none();
  for (const { state, runGroupId } of entries) {
    const { status } = decideClearance(state, now);
    const group = byGroup.get(runGroupId) ?? { total: 0, statuses: none() };
    group.total += 1;
    group.statuses[status] += 1;
    byGroup.set(runGroupId, group);
    statuses[status] += 1;
  }
  return { total: entries.length, statuses, groups: byGroup };
}

/** Whether an entry has no declaration that counts, whatever else is the matter with it. */
export function isUndeclared(facts: ClearanceFacts): boolean {
  return !facts.withdrawn && facts.declared === undefined;
}

/** Whether a car that is not on the line must still come to it: nobody accepted it, or not for now any more. */
export function isExpectedAtLine({ facts, onLine }: EntryState, now: Date): boolean {
  if (facts.withdrawn || onLine) return false;
  const { signOff } = facts;
  if (signOff === undefined || signOff.decision === 'refuse') return true;
  return signOff.validUntil === undefined || now.getTime() >= epochMs(signOff.validUntil);
}

/**
 * Holds that stand, each once: one about a car at the entry where it was placed, or at another entry of the car where that
 * one is out of the event.
 */
export function standingHolds<E extends EntryState>(
  entries: readonly E[],
): { entry: E; holdId: string; reason: string }[] {
  const holds = new Map<string, { entry: E; holdId: string; reason: string }>();
  const isHome = (entry: E, placedAt: string) => entry.entryId === placedAt;
  for (const entry of entries) {
    for (const { holdId, reason } of entry.facts.holds)
      if (!holds.has(holdId)) holds.set(holdId, { entry, holdId, reason });
    for (const { holdId, reason, entryId } of entry.state.car.holds) {
      if (!holds.has(holdId) || isHome(entry, entryId)) holds.set(holdId, { entry, holdId, reason });
    }
  }
  return [...holds.values()];
}

/** A condition of an acceptance that is not done; `pastDue`: it holds the car already. Due times are exclusive. */
export function openConditions(
  entries: readonly EntryState[],
  now: Date,
): { entry: EntryState; id: string; text: string; dueAt?: string; pastDue: boolean }[] {
  const open = entries.flatMap((entry) =>
    (entry.facts.withdrawn ? [] : entry.facts.conditions).map(({ id, text, dueAt }) => ({
      entry,
      id,
      text,
      ...(dueAt === undefined ? {} : { dueAt }),
      pastDue: dueAt !== undefined && now.getTime() >= epochMs(dueAt),
    })),
  );
  const dueMs = (dueAt: string | undefined): number => (dueAt === undefined ? Number.MAX_VALUE : epochMs(dueAt));
  return open.toSorted((a, b) => dueMs(a.dueAt) - dueMs(b.dueAt));
}
