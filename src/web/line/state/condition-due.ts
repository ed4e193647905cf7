import {
  CONDITION_KINDS,
  type ConditionKind,
  dueOfKind,
  knownTimes,
  type KnownTimes,
} from '../../../domain/log/condition-due.ts';
import type { Timetable } from '../../../domain/log/timetable.ts';
import { fromWallClock } from '../../shared/wall-clock.ts';
import type { ConditionEntry } from './worksheet.ts';

export { CONDITION_KINDS as COMMON, type ConditionKind as CommonCondition, type KnownTimes };

interface About {
  firstSessionAt: string | undefined;
  /** of the group, as they were when the car was taken; empty: not known */
  sessions: Timetable;
  event: { timeZone: string; startsOn: string };
  /** ms since the epoch, by the server's clock */
  now: number;
}

/** When the group next goes out, when it goes out after that, and when the day ends at the venue. */
export function timesFor({ firstSessionAt, sessions, event, now }: About): KnownTimes {
  const { timeZone, startsOn } = event;
  // The Swedish form of a date is that of ISO 8601.
  const today = new Intl.DateTimeFormat('sv-SE', { timeZone }).format(now);
  const endOfDay = fromWallClock(`${today < startsOn ? startsOn : today}T23:59`, timeZone);
  return knownTimes({ sessions, firstSessionAt, endOfDay, now });
}

/** The time that a kind of condition gets; a time that is not known is asked for. "No time" is a choice of the person. */
export function usualDue(
  kind: ConditionKind,
  times: KnownTimes,
  hasTable: boolean,
): Pick<ConditionEntry, 'due' | 'at'> {
  return dueFor(dueOfKind(kind, times, hasTable) ?? 'time', times);
}

/** What is kept of a choice. The instant is that of the choosing: it does not move on while the car is looked at. */
export function dueFor(due: ConditionEntry['due'], times: KnownTimes): Pick<ConditionEntry, 'due' | 'at'> {
  if (due === 'none' || due === 'time') return { due, at: undefined };
  const at = times[due];
  return at === undefined ? { due: 'time', at } : { due, at };
}
