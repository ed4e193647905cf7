import { addDays, comparePlainDates, type PlainDate, plainDateAt, sameTimeOn } from '../calendar.ts';

export const TORQUE_RECHECK_TEXT = 'Re-check wheel torque after the first session, wheels cooled';

export interface SessionDays {
  /** when the run group first goes on track */
  firstSessionAt: Date;
  timeZone: string;
  endsOn: PlainDate;
}

/**
 * From when on a re-check of the wheel fasteners counts, and by when it must be done, for a car that is accepted at `now`.
 * A run group has the time of its first session and no table of the others, so its next session is taken to be that
 * time on the next day. On the last day there is none: the condition then stands without a due time.
 */
export function torqueRecheckTimes(
  { firstSessionAt, timeZone, endsOn }: SessionDays,
  now: Date,
): { from: Date; dueAt: Date | undefined } {
  const today = plainDateAt(now, timeZone);
  const firstDay = plainDateAt(firstSessionAt, timeZone);
  const drivenOn = comparePlainDates(today, firstDay) > 0 ? today : firstDay;
  const start = sameTimeOn(firstSessionAt, drivenOn, timeZone);
  const nextDay = addDays(drivenOn, 1);
  const isOver = comparePlainDates(nextDay, endsOn) > 0;
  return {
    from: start > now ? start : now,
    dueAt: isOver ? undefined : sameTimeOn(firstSessionAt, nextDay, timeZone),
  };
}
