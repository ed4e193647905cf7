import { dateOf, epochMs, type Instant, instantAt, plainDateAt } from '../calendar.ts';
import type { Shift } from '../foresight/line-day.ts';
import type { Timetable } from '../log/timetable.ts';

/** People who inspect side by side for a while, each in a lane of his own. */
export interface LineShift {
  from: Instant;
  to: Instant;
  inspectors: number;
}

const MINUTE_MS = 60_000;

/** Where nobody has said when the line is open: so long before the first session of a day, with so many people. From memory. */
const USUAL = { minutesBefore: 120, inspectors: 2 };

/** Minutes since 1970, as plans count. */
export const minutesOf = (instant: Date): number => instant.getTime() / MINUTE_MS;
export const instantOf = (minutes: number): Date => dateOf(instantAt(Math.round(minutes * MINUTE_MS)));

/** When a line is mostly open: on each day on which a group goes out for the first time, from two hours before until the last does. */
export function usualShifts(firstSessions: readonly Date[], timeZone: string): LineShift[] {
  const days = new Map<string, number[]>();
  for (const at of firstSessions) {
    const day = plainDateAt(at, timeZone);
    days.set(day, [...(days.get(day) ?? []), at.getTime()]);
  }
  const spans = [...days.values()].map((times) => ({
    from: Math.min(...times) - USUAL.minutesBefore * MINUTE_MS,
    to: Math.max(...times),
  }));
  return spans
    .toSorted((a, b) => a.from - b.from)
    .map(({ from, to }) => ({ from: instantAt(from), to: instantAt(to), inspectors: USUAL.inspectors }));
}

/** What is wrong with shifts: each ends after its beginning, and none begins before the one before it has ended. */
export function shiftFaults(shifts: readonly LineShift[]): { at: number; field: 'from' | 'to'; detail: string }[] {
  return shifts.flatMap(({ from, to }, at) => {
    const before = shifts[at - 1];
    const faults: { at: number; field: 'from' | 'to'; detail: string }[] = [];
    if (epochMs(to) <= epochMs(from)) faults.push({ at, field: 'to', detail: 'Must lie after its beginning.' });
    if (before !== undefined && epochMs(from) < epochMs(before.to)) {
      faults.push({ at, field: 'from', detail: 'Begins before the one before it has ended: put the people together.' });
    }
    return faults;
  });
}

/** What is left of shifts from an instant on, in minutes. */
export function shiftsFrom(shifts: readonly LineShift[], now: Date): Shift[] {
  const from = Math.ceil(minutesOf(now));
  return shifts
    .map((shift) => ({
      from: Math.max(from, epochMs(shift.from) / MINUTE_MS),
      to: epochMs(shift.to) / MINUTE_MS,
      inspectors: shift.inspectors,
    }))
    .filter((shift) => shift.to > shift.from);
}

/** By when a car must be done: its group's next session that has not begun; after the last one, when the line closes. */
export function dueOf(
  { firstSessionAt, sessions }: { firstSessionAt: Date; sessions: Timetable },
  shifts: readonly Shift[],
  now: Date,
): number {
  const starts = [minutesOf(firstSessionAt), ...sessions.map(({ startsAt }) => epochMs(startsAt) / MINUTE_MS)];
  const ahead = starts.filter((at) => at > minutesOf(now));
  return ahead.length > 0 ? Math.min(...ahead) : Math.max(minutesOf(now), ...shifts.map(({ to }) => to));
}
