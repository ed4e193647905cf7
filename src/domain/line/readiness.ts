import { epochMs } from '../calendar.ts';
import { CLEARANCE_STATUSES, type ClearanceFacts, type ClearanceStatus } from '../clearance/clearance.ts';
import { type ClearanceState, decideClearance } from '../clearance/decide-clearance.ts';
import { NotComputable } from '../trade/calculation.ts';
import { SHORTEST_MINUTES } from './minutes-per-car.ts';
import {
  backlogClearedMinutes,
  fewestForBacklog,
  fewestToClear,
  WAIT_LIMIT_MINUTES,
  WAIT_SHARE_PERCENT,
} from '../trade/line/line-staffing.ts';

/** Minutes for one car at the line while too few were measured. Common practice, no source. */
export const ASSUMED_MINUTES_PER_CAR = 12;
/** Fewer measured inspections than this say little about the mean. Common practice, no source. */
const FEWEST_MEASURED = 5;

/** Mean time for one car: measured at this event, or assumed. */
interface ServiceTime {
  minutes: number;
  from: 'measured' | 'assumption';
  /** inspections it is the mean of, or the too few that there were */
  measured: number;
}

/**
 * The mean of the measured durations (minutes) that an inspection can take; the assumption while there are fewer than
 * `FEWEST_MEASURED`.
 */
export function serviceTime(durations: readonly number[]): ServiceTime {
  const measured = durations.filter((minutes) => minutes >= SHORTEST_MINUTES);
  const count = measured.length;
  if (count < FEWEST_MEASURED) return { minutes: ASSUMED_MINUTES_PER_CAR, from: 'assumption', measured: count };
  return { minutes: measured.reduce((sum, one) => sum + one, 0) / count, from: 'measured', measured: count };
}

/** A run group before its first session: cars on the line, and cars that must still come to it. */
interface GroupAtLine {
  runGroupId: string;
  /** from now; negative once it has begun */
  minutesToFirstSession: number;
  waiting: number;
  expected: number;
}

/** How a group stands if the line works through the groups in the order of their first sessions. */
interface GroupForecast extends GroupAtLine {
  /** minutes from now until its last car is through, at best; `undefined`: nobody inspects */
  doneInMinutes?: number;
  /** `undefined`: nobody inspects, so it cannot be told */
  inTime?: boolean;
  /** fewest with whom its cars, and those before them, can be through; 0: none is left; `undefined`: too late for any */
  inspectorsNeeded?: number;
  /** the same if the expected cars come at random: 9 of 10 wait at most 15 minutes; `undefined`: too late, or unknown */
  inspectorsForWaits?: number;
}

interface LineForecast {
  waiting: number;
  expected: number;
  /** minutes from now until the cars on the line are through; `undefined`: nobody inspects */
  waitingDoneInMinutes?: number;
  /** the same with the cars that must still come, if they come in time */
  allDoneInMinutes?: number;
  /** in the order in which the line takes them */
  groups: GroupForecast[];
  /** fewest with whom every group can be in time; `undefined`: for one of them it is too late */
  inspectorsNeeded?: number;
}

/** What a computation of the trade gives; `undefined` where it refuses, because no number of inspectors would do. */
function unlessRefused(compute: () => number): number | undefined {
  try {
    return compute();
  } catch (error) {
    if (error instanceof NotComputable) return undefined;
    throw error;
  }
}

const doneIn = (cars: number, inspectors: number, minutes: number): number | undefined =>
  cars === 0 ? 0 : inspectors < 1 ? undefined : backlogClearedMinutes(cars, inspectors, minutes);

function neededFor(group: GroupAtLine, before: { waiting: number; expected: number }, serviceMinutes: number) {
  if (group.waiting + group.expected === 0) return { inspectorsNeeded: 0, inspectorsForWaits: 0 };
  const { minutesToFirstSession } = group;
  const { waiting, expected: cars } = before;
  const needed = unlessRefused(() => fewestForBacklog(waiting + cars, serviceMinutes, minutesToFirstSession));
  const arrivalMinutes = minutesToFirstSession - serviceMinutes - WAIT_LIMIT_MINUTES;
  const morning = {
    cars,
    waiting,
    serviceMinutes,
    minutesToFirstSession,
    arrivalMinutes,
    share: WAIT_SHARE_PERCENT / 100,
  };
  const steady = arrivalMinutes < 1 ? undefined : unlessRefused(() => fewestToClear(morning));
  // with one inspector for each car nobody waits: a steady flow of so few cars asks for more than there are
  const forWaits = steady === undefined ? undefined : Math.min(steady, waiting + cars);
  return {
    ...(needed !== undefined && { inspectorsNeeded: needed }),
    ...(forWaits !== undefined && { inspectorsForWaits: forWaits }),
  };
}

/**
 * Forecasts the line: when it would be through with so many inspectors, and how many it takes to have every group
 * through by its first session. Best case: nobody stands idle, the line stays open, and cars come in time.
 *
 * @param inspectors at work now, 0 or more
 * @see `trade/line-staffing.ts` for both bounds
 */
export function forecastLine(groups: readonly GroupAtLine[], inspectors: number, serviceMinutes: number): LineForecast {
  const ordered = groups.toSorted((a, b) => a.minutesToFirstSession - b.minutesToFirstSession);
  const before = { waiting: 0, expected: 0 };
  const forecasts = ordered.map((group): GroupForecast => {
    before.waiting += group.waiting;
    before.expected += group.expected;
    const isDone = group.waiting + group.expected === 0;
    const done = isDone ? 0 : doneIn(before.waiting + before.expected, inspectors, serviceMinutes);
    return {
      ...group,
      ...(done !== undefined && { doneInMinutes: done, inTime: isDone || done <= group.minutesToFirstSession }),
      ...neededFor(group, before, serviceMinutes),
    };
  });
  const waitingDone = doneIn(before.waiting, inspectors, serviceMinutes);
  const allDone = doneIn(before.waiting + before.expected, inspectors, serviceMinutes);
  const needed = forecasts.map((group) => group.inspectorsNeeded);
  const known = needed.filter((one) => one !== undefined);
  return {
    ...before,
    ...(waitingDone !== undefined && { waitingDoneInMinutes: waitingDone }),
    ...(allDone !== undefined && { allDoneInMinutes: allDone }),
    groups: forecasts,
    ...(known.length === needed.length && { inspectorsNeeded: Math.max(0, ...known) }),
  };
}

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
export function isExpectedAtLine({ facts, onLine }: Pick<EntryState, 'facts' | 'onLine'>, now: Date): boolean {
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
