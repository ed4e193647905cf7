import {
  addDays,
  comparePlainDates,
  dateOf,
  type Instant,
  type PlainDate,
  plainDateAt,
  sameTimeOn,
} from '../calendar.ts';
import { dailyRecheckText } from './condition-words.ts';
import type { Timetable } from './timetable.ts';

/** A re-check that is due on one day. */
interface DailyRecheck {
  text: string;
  dueAt: Instant;
}

interface Event {
  firstSessionAt: Date;
  sessions: Timetable;
  timeZone: string;
  startsOn: PlainDate;
  endsOn: PlainDate;
}

/**
 * The re-checks of a car that is accepted at `now`: one for each later day of the event on which its group drives, due when
 * it first goes on track there. The day of the acceptance has none: the line has just looked.
 *
 * @param points what the group names; empty: no re-check. Which there are is common practice, no source
 */
export function dailyRechecks(points: readonly string[], event: Event, now: Date): DailyRecheck[] {
  if (points.length === 0) return [];
  const { startsOn, endsOn, timeZone } = event;
  const today = plainDateAt(now, timeZone);
  const accepted = comparePlainDates(today, startsOn) < 0 ? startsOn : today;
  const checks: DailyRecheck[] = [];
  for (let day = addDays(accepted, 1); comparePlainDates(day, endsOn) <= 0; day = addDays(day, 1)) {
    const dueAt = firstOn(day, event);
    if (dueAt !== undefined) checks.push({ text: dailyRecheckText(day, points), dueAt });
  }
  return checks;
}

/** When the group first goes out on a day: by its timetable, else at the time of its first session. */
function firstOn(day: PlainDate, { firstSessionAt, sessions, timeZone }: Event): Instant | undefined {
  if (sessions.length === 0) return sameTimeOn(firstSessionAt, day, timeZone).toISOString();
  return sessions.find(({ startsAt }) => plainDateAt(dateOf(startsAt), timeZone) === day)?.startsAt;
}
