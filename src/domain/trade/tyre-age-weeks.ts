import { addDays, daysBetween, endOfYear, type PlainDate } from '../calendar.ts';

/** First and last day of something, both included. */
export interface DayInterval {
  earliest: PlainDate;
  latest: PlainDate;
}

/** 2 January 2000 was a Sunday: where days of the week are counted from. */
const A_SUNDAY = '2000-01-02';
const DAYS_IN_WEEK = 7;

/** 0 for Sunday to 6 for Saturday. Throws RangeError when it is not a date. */
function dayOfWeek(date: PlainDate): number {
  const days = daysBetween(A_SUNDAY, date) % DAYS_IN_WEEK;
  return days < 0 ? days + DAYS_IN_WEEK : days;
}

const firstDay = (year: number): PlainDate => `${year}-01-01`;
const weekFrom = (start: PlainDate): DayInterval => ({ earliest: start, latest: addDays(start, DAYS_IN_WEEK - 1) });

/**
 * The Sunday-to-Saturday week of a year (2000 to 2099) where week 1 is the first full calendar week; `undefined` when
 * the year has no such week (53 exists only in years with 53 Sundays). The last week may run into the next year. Never
 * throws.
 *
 * @see week 1 as the first full week: secondary source on 49 CFR 574.5; Sunday as first day: from memory
 */
export function findSundayWeek(year: number, week: number): DayInterval | undefined {
  const start = firstDay(year);
  const firstSunday = addDays(start, (DAYS_IN_WEEK - dayOfWeek(start)) % DAYS_IN_WEEK);
  const sunday = addDays(firstSunday, DAYS_IN_WEEK * (week - 1));
  return week >= 1 && sunday <= endOfYear(start) ? weekFrom(sunday) : undefined;
}

/**
 * The ISO 8601 week (Monday to Sunday, week 1 contains 4 January) of a year (2000 to 2099); `undefined` when the year
 * has no such week. Week 1 may begin in the year before. Never throws.
 *
 * @see ISO 8601, secondary sources
 */
export function findIsoWeek(year: number, week: number): DayInterval | undefined {
  const fourth: PlainDate = `${year}-01-04`;
  const firstMonday = addDays(fourth, -((dayOfWeek(fourth) + 6) % DAYS_IN_WEEK));
  const monday = addDays(firstMonday, DAYS_IN_WEEK * (week - 1));
  // a week belongs to the year its Thursday is in
  return week >= 1 && addDays(monday, 3) <= endOfYear(fourth) ? weekFrom(monday) : undefined;
}

/**
 * The days a numbered week (01 to 53) of a year (2000 to 2099) may mean: from the first to the last day of the Sunday
 * week and the ISO week of that number together, because a sidewall does not say which its plant counts by. Where
 * neither count has a week 53, from the Sunday on or before 31 December to the Saturday a week later at the latest.
 *
 * @throws RangeError for a week outside 1 to 53
 * @see `findSundayWeek`, `findIsoWeek`
 */
export function daysOfWeek(year: number, week: number): DayInterval {
  const key = year * 100 + week;
  const known = kept.get(key);
  if (known !== undefined) return known;
  if (!Number.isInteger(week) || week < 1 || week > 53) throw new RangeError(`not a week number: ${week}`);
  const days = findDaysOfWeek(year, week);
  if (kept.size < MAX_KEPT) kept.set(key, days);
  return days;
}

/** The weeks of a century: every tyre of every car is asked for, and counting days is slow beside judging a rule. */
const kept = new Map<number, DayInterval>();
const MAX_KEPT = 5300;

function findDaysOfWeek(year: number, week: number): DayInterval {
  const found = [findSundayWeek(year, week), findIsoWeek(year, week)].filter((days) => days !== undefined);
  if (found.length === 0) return weekFiftyThreeOfNoCount(year);
  return {
    earliest: found.map((days) => days.earliest).reduce((a, b) => (a < b ? a : b)),
    latest: found.map((days) => days.latest).reduce((a, b) => (a > b ? a : b)),
  };
}

function weekFiftyThreeOfNoCount(year: number): DayInterval {
  const end = endOfYear(firstDay(year));
  const sunday = addDays(end, -dayOfWeek(end));
  return { earliest: sunday, latest: addDays(sunday, 2 * DAYS_IN_WEEK - 1) };
}
