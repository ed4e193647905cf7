import { epochMs } from '../calendar.ts';
import { decideClearance } from '../clearance/decide-clearance.ts';
import { backlogClearedMinutes } from '../trade/line/line-staffing.ts';
import type { EntryState } from './readiness.ts';

/** Why somebody is called: nothing was declared that counts, or what was declared keeps the car off the track. */
type CallReason = 'not-declared' | 'barred';

/**
 * Whom to call: entries that will not start as they are and whose people can mend it, those who start first in front, of one
 * session those who have not declared before those who are barred.
 *
 * @param firstSessions by run group, RFC 3339; a group that is not in it comes last
 */
export function whomToCall<E extends EntryState>(
  entries: readonly E[],
  firstSessions: ReadonlyMap<string, string>,
  now: Date,
): { entry: E; why: CallReason }[] {
  const startsAt = ({ runGroupId }: EntryState): number => {
    const at = firstSessions.get(runGroupId);
    return at === undefined ? Number.MAX_VALUE : epochMs(at);
  };
  const toCall = entries.flatMap((entry): { entry: E; why: CallReason }[] => {
    const { status } = decideClearance(entry.state, now);
    if (status === 'no-declaration') return [{ entry, why: 'not-declared' }];
    return status === 'barred' ? [{ entry, why: 'barred' }] : [];
  });
  const rank = ({ why }: { why: CallReason }) => (why === 'not-declared' ? 0 : 1);
  return toCall.toSorted((a, b) => startsAt(a.entry) - startsAt(b.entry) || rank(a) - rank(b));
}

/** Cars of a run group that must still be looked at; minutes from now to its first session, negative once it has begun. */
interface GroupWork {
  runGroupId: string;
  minutesToFirstSession: number;
  cars: number;
}

/** How the line fares with so many people from now on. Best case: nobody stands idle, every car takes the mean time. */
interface LineOption {
  inspectors: number;
  /** minutes from now until the last car is through */
  allDoneInMinutes: number;
  /** groups whose last car is not through by their first session, first sessions first */
  lateGroups: readonly string[];
  /** minutes from now by which so many must have begun for all to be in time; negative: too late; absent: no cars are left */
  startInMinutes?: number;
}

/** People that an option adds to those who are there. */
const MORE = [0, 1, 2];

/**
 * What one or two people more would change, and by when so many must begin at the latest. The line takes groups in the order
 * of their first sessions.
 *
 * @param inspectors at work now; where nobody is, the options are one person, two and three
 * @param serviceMinutes mean time for one car, above 0
 */
export function lineOptions(groups: readonly GroupWork[], inspectors: number, serviceMinutes: number): LineOption[] {
  const ordered = groups.toSorted((a, b) => a.minutesToFirstSession - b.minutesToFirstSession);
  return MORE.map((more) => optionOf(ordered, Math.max(1, inspectors) + more, serviceMinutes));
}

function optionOf(ordered: readonly GroupWork[], inspectors: number, serviceMinutes: number): LineOption {
  const starts: number[] = [];
  const lateGroups: string[] = [];
  let before = 0;
  let done = 0;
  for (const { runGroupId, minutesToFirstSession, cars } of ordered) {
    if (cars === 0) continue;
    before += cars;
    done = backlogClearedMinutes(before, inspectors, serviceMinutes);
    starts.push(minutesToFirstSession - done);
    if (done > minutesToFirstSession) lateGroups.push(runGroupId);
  }
  const start = starts.length === 0 ? {} : { startInMinutes: Math.min(...starts) };
  return { inspectors, allDoneInMinutes: done, lateGroups, ...start };
}
