import { addDays, comparePlainDates, dateOf, epochMs, type PlainDate, plainDateAt, sameTimeOn } from '../calendar.ts';
import type { Timetable } from './timetable.ts';

export const TORQUE_RECHECK_TEXT = 'Re-check wheel torque after the first session, wheels cooled';

export interface SessionDays {
  /** when the run group first goes on track */
  firstSessionAt: Date;
  sessions: Timetable;
  timeZone: string;
  endsOn: PlainDate;
}

/** From when on the wheel torque counts, and by when it must be done; undefined: the group does not go out again. */
export interface RecheckTimes {
  from: Date;
  dueAt: Date | undefined;
}

/**
 * From when on a re-check of the wheel fasteners counts, and by when it must be done, for a car that is accepted at `now`:
 * after the first session that it can drive in, before the group goes out again. That is the one that is not over; who
 * is accepted while it runs may join it.
 */
export function torqueRecheckTimes(days: SessionDays, now: Date): RecheckTimes {
  if (days.sessions.length === 0) return byFirstSession(days, now);
  const index = days.sessions.findIndex(({ endsAt }) => epochMs(endsAt) > now.getTime());
  const driven = days.sessions[index];
  // What follows the timetable is not known: later days are taken to begin as the first one did.
  if (driven === undefined) return byFirstSession(days, now, addDays(plainDateAt(now, days.timeZone), 1));
  const next = days.sessions[index + 1];
  const from = dateOf(driven.endsAt);
  if (next !== undefined) return { from, dueAt: dateOf(next.startsAt) };
  return { from, dueAt: firstOnDayAfter(days, plainDateAt(dateOf(driven.startsAt), days.timeZone)) };
}

/**
 * The same for a group of which no more is known than when it first goes on track: its next session is taken to be that time on
 * the next day. On the last day there is none.
 */
function byFirstSession(days: SessionDays, now: Date, notBefore?: PlainDate): RecheckTimes {
  const { firstSessionAt, timeZone } = days;
  const today = notBefore ?? plainDateAt(now, timeZone);
  const firstDay = plainDateAt(firstSessionAt, timeZone);
  const drivenOn = comparePlainDates(today, firstDay) > 0 ? today : firstDay;
  const start = sameTimeOn(firstSessionAt, drivenOn, timeZone);
  return { from: start > now ? start : now, dueAt: firstOnDayAfter(days, drivenOn) };
}

function firstOnDayAfter({ firstSessionAt, timeZone, endsOn }: SessionDays, day: PlainDate): Date | undefined {
  const next = addDays(day, 1);
  return comparePlainDates(next, endsOn) > 0 ? undefined : sameTimeOn(firstSessionAt, next, timeZone);
}
