import { Temporal } from 'temporal-polyfill';

/** A calendar date at the venue, `YYYY-MM-DD`: no time, no zone. Texts of this form sort by date. */
export type PlainDate = string;

const isLeapYear = (year: number): boolean => (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;

function daysInMonth(year: number, month: number): number {
  if (month === 2) return isLeapYear(year) ? 29 : 28;
  return month === 4 || month === 6 || month === 9 || month === 11 ? 30 : 31;
}

interface DateParts {
  year: number;
  month: number;
  day: number;
}

const [ZERO, NINE, DASH] = [48, 57, 45];

/** The number that the characters are, `NaN` where one is no digit; by their codes, because judging reads dates all the time. */
function digitsAt(text: string, from: number, until: number): number {
  let number = 0;
  for (let at = from; at < until; at += 1) {
    const code = text.charCodeAt(at);
    if (code < ZERO || code > NINE) return Number.NaN;
    number = number * 10 + code - ZERO;
  }
  return number;
}

function findParts(text: string): DateParts | undefined {
  if (text.length !== 10 || text.charCodeAt(4) !== DASH || text.charCodeAt(7) !== DASH) return undefined;
  const year = digitsAt(text, 0, 4);
  const month = digitsAt(text, 5, 7);
  const day = digitsAt(text, 8, 10);
  const real = year >= 1 && month >= 1 && month <= 12 && day >= 1 && day <= daysInMonth(year, month);
  return real ? { year, month, day } : undefined;
}

function getParts(date: PlainDate): DateParts {
  const parts = findParts(date);
  if (parts === undefined) throw new RangeError(`not a date of the form YYYY-MM-DD: ${JSON.stringify(date)}`);
  return parts;
}

function write({ year, month, day }: DateParts): PlainDate {
  if (year < 1 || year > 9999) throw new RangeError('date outside the years 0001 to 9999');
  return `${year > 999 ? year : String(year).padStart(4, '0')}-${two(month)}-${two(day)}`;
}

const two = (value: number): string => (value < 10 ? `0${value}` : `${value}`);

/** Days since 0000-03-01: a year that starts in March has its leap day last, so that no table is needed. */
function dayNumber({ year, month, day }: DateParts): number {
  const shifted = month > 2 ? year : year - 1;
  const monthFromMarch = (month + 9) % 12;
  const leapDays = Math.floor(shifted / 4) - Math.floor(shifted / 100) + Math.floor(shifted / 400);
  return shifted * 365 + leapDays + Math.floor((153 * monthFromMarch + 2) / 5) + day - 1;
}

/** Whether the text is a date that exists, as `YYYY-MM-DD` of the years 0001 to 9999. Slash dates are not. */
export function isPlainDate(text: string): boolean {
  return findParts(text) !== undefined;
}

/** The date if the text is one (`isPlainDate`), else `undefined`: `2/4/95`, `2026-02-30`, `20260203`. */
export function parsePlainDate(text: string): PlainDate | undefined {
  return isPlainDate(text) ? text : undefined;
}

/** Negative, 0 or positive as `a` is before, on or after `b`. */
export function comparePlainDates(a: PlainDate, b: PlainDate): -1 | 0 | 1 {
  if (a === b) return 0;
  return a < b ? -1 : 1;
}

/**
 * The number of a day, counted from 0000-03-01: whole days between two dates are the difference.
 *
 * @throws RangeError when it is not a date
 */
export const dayNumberOf = (date: PlainDate): number => dayNumber(getParts(date));

/**
 * Whole days from one date to another; negative when `to` is earlier.
 *
 * @throws RangeError when one is not a date
 */
export function daysBetween(from: PlainDate, to: PlainDate): number {
  return dayNumberOf(to) - dayNumberOf(from);
}

/**
 * The date so many days (an integer, may be negative) later.
 *
 * @throws RangeError when it is not a date or the result leaves the years 0001 to 9999
 */
export function addDays(date: PlainDate, days: number): PlainDate {
  getParts(date);
  return write(Temporal.PlainDate.from(date).add({ days }));
}

/**
 * The date so many months (an integer, may be negative) later, clamped to the end of the month:
 * 31 August + 6 months is 28 or 29 February, 29 February + 12 months is 28 February (our choice, there is no rule).
 *
 * @throws RangeError when it is not a date or the result leaves the years 0001 to 9999
 */
export function addMonths(date: PlainDate, months: number): PlainDate {
  const { year, month, day } = getParts(date);
  if (!Number.isInteger(months)) throw new RangeError(`not a whole number of months: ${months}`);
  const count = year * 12 + month - 1 + months;
  const targetYear = Math.floor(count / 12);
  const targetMonth = count - targetYear * 12 + 1;
  return write({ year: targetYear, month: targetMonth, day: Math.min(day, daysInMonth(targetYear, targetMonth)) });
}

/**
 * The largest n for which `addMonths(from, n)` is not after `to`, so that 31 August to 28 February is 6 months.
 * Counted from the earlier date and negated when `to` is earlier.
 *
 * @throws RangeError when one is not a date
 */
export function wholeMonthsBetween(from: PlainDate, to: PlainDate): number {
  if (to < from) {
    const reversed = wholeMonthsBetween(to, from);
    return reversed === 0 ? 0 : -reversed;
  }
  const start = getParts(from);
  const end = getParts(to);
  const months = (end.year - start.year) * 12 + end.month - start.month;
  const reached = end.day >= Math.min(start.day, daysInMonth(end.year, end.month));
  return reached ? months : months - 1;
}

/** 31 December of the date's year: how labels that name a year end. Throws RangeError when it is not a date. */
export function endOfYear(date: PlainDate): PlainDate {
  return write({ year: getParts(date).year, month: 12, day: 31 });
}

/**
 * Whether the text names a time zone with its own rules (`Europe/Paris`, `UTC`). Fixed offsets such as `+05:00` do
 * not: a venue's clock changes in spring and an offset would not.
 */
export function isTimeZone(text: string): boolean {
  if (!/^[A-Za-z]/u.test(text)) return false;
  try {
    Temporal.Instant.fromEpochMilliseconds(0).toZonedDateTimeISO(text);
    return true;
  } catch {
    // the one way the library has to say that it does not know the zone
    return false;
  }
}

/**
 * The calendar date that clocks at the place show at an instant.
 *
 * @throws RangeError for an unknown zone or an invalid instant
 */
export function plainDateAt(instant: Date, timeZone: string): PlainDate {
  return write(Temporal.Instant.fromEpochMilliseconds(instant.getTime()).toZonedDateTimeISO(timeZone));
}

/**
 * The first instant of a date at a place; not always midnight, where clocks go forward at midnight.
 *
 * @throws RangeError for an unknown zone or when it is not a date
 */
export function startOfDay(date: PlainDate, timeZone: string): Date {
  getParts(date);
  return new Date(Temporal.PlainDate.from(date).toZonedDateTime(timeZone).epochMilliseconds);
}

/** The first instant after a date at a place: its end, exclusive. 23 or 25 hours after the start on some days. */
export function startOfNextDay(date: PlainDate, timeZone: string): Date {
  return startOfDay(addDays(date, 1), timeZone);
}

/**
 * The instant at which clocks at the place show the same time of day on another date; where that time does not exist
 * there, as when clocks go forward, the one that follows.
 *
 * @throws RangeError for an unknown zone or when it is not a date
 */
export function sameTimeOn(instant: Date, date: PlainDate, timeZone: string): Date {
  getParts(date);
  const shown = Temporal.Instant.fromEpochMilliseconds(instant.getTime()).toZonedDateTimeISO(timeZone).toPlainTime();
  const there = Temporal.PlainDate.from(date).toZonedDateTime({ timeZone, plainTime: shown });
  return new Date(there.epochMilliseconds);
}

/** An instant as text: RFC 3339 in UTC, for example `2026-06-13T05:40:00.000Z`. */
export type Instant = string;

/**
 * The instant as the platform has it.
 *
 * @throws RangeError on a text that is no instant
 */
export const dateOf = (instant: Instant): Date => new Date(epochMs(instant));

/** The instant so many milliseconds after the start of 1970 (UTC), as text. */
export const instantAt = (ms: number): Instant => new Date(ms).toISOString();

/** Whether a text is an instant at all. */
export const isInstant = (text: string): boolean => !Number.isNaN(Date.parse(text));

/**
 * Milliseconds since 1970 (UTC) of an instant.
 *
 * @throws RangeError on a text that is no instant: `NaN` would compare as "not yet over" and let a car through
 */
export function epochMs(instant: Instant): number {
  const ms = Date.parse(instant);
  if (Number.isNaN(ms)) throw new RangeError(`not an instant: ${instant}`);
  return ms;
}
