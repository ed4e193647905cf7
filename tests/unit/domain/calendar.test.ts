import fc from 'fast-check';
import { Temporal } from 'temporal-polyfill';
import { describe, expect, it } from 'vitest';
import {
  addDays,
  addMonths,
  comparePlainDates,
  daysBetween,
  endOfYear,
  isPlainDate,
  isTimeZone,
  parsePlainDate,
  plainDateAt,
  startOfDay,
  startOfNextDay,
  wholeMonthsBetween,
} from '../../../src/domain/calendar.ts';

const arbDate = fc
  .date({ min: new Date('1600-01-01'), max: new Date('2400-12-31'), noInvalidDate: true })
  .map((date) => date.toISOString().slice(0, 10));
const hours = (from: Date, to: Date): number => (to.getTime() - from.getTime()) / 3_600_000;

describe('parsePlainDate', () => {
  it.each(['1953-08-02', '2024-02-29', '2000-02-29', '0001-01-01', '9999-12-31'])('takes %s', (text) => {
    expect(parsePlainDate(text)).toBe(text);
  });

  it.each([
    '2/4/95',
    '02/04/1995',
    '2026-02-30',
    '2026-02-29',
    '1900-02-29',
    '2026-13-01',
    '2026-00-10',
    '2026-01-00',
    '2026-1-1',
    '20260203',
    '2026-02-03T00:00:00Z',
    '+002026-02-03',
    '0000-01-01',
    ' 2026-02-03',
    '2026-02-03\n',
    '٢٠٢٦-٠٢-٠٣',
    '',
  ])('refuses %j', (text) => {
    expect(parsePlainDate(text)).toBeUndefined();
  });

  it('agrees with Temporal on what is a date', () => {
    const two = (value: number): string => String(value).padStart(2, '0');
    const parts = fc.tuple(
      fc.integer({ min: 1890, max: 2110 }),
      fc.integer({ min: 0, max: 13 }),
      fc.integer({ min: 0, max: 32 }),
    );
    fc.assert(
      fc.property(parts, ([year, month, day]) => {
        const exists = (() => {
          try {
            Temporal.PlainDate.from({ year, month, day }, { overflow: 'reject' });
            return true;
          } catch {
            // Temporal refuses by throwing
            return false;
          }
        })();
        expect(isPlainDate(`${year}-${two(month)}-${two(day)}`)).toBe(exists);
      }),
      { numRuns: 2000 },
    );
  });
});

describe('day arithmetic', () => {
  it.each([
    ['1953-01-01', '1953-08-02', 213, 'ISO 8601: 1953-08-02 is day 214 of its year'],
    ['2014-12-29', '2015-01-04', 6, 'ISO week 2015-W01 runs from Monday 29 December 2014'],
    ['2024-02-28', '2024-03-01', 2, 'a leap day lies between'],
    ['2023-02-28', '2023-03-01', 1, 'no leap day'],
    ['2026-03-01', '2026-02-01', -28, 'backwards'],
  ])('from %s to %s are %d days (%s)', (from, to, days) => {
    expect(daysBetween(from, to)).toBe(days);
    expect(addDays(from, days)).toBe(to);
  });

  it('agrees with Temporal', () => {
    fc.assert(
      fc.property(arbDate, arbDate, (a, b) => {
        const [from, to] = [Temporal.PlainDate.from(a), Temporal.PlainDate.from(b)];
        expect(daysBetween(a, b)).toBe(from.until(to, { largestUnit: 'day' }).days);
        expect(comparePlainDates(a, b)).toBe(Temporal.PlainDate.compare(from, to));
        expect(addDays(a, daysBetween(a, b))).toBe(b);
      }),
      { numRuns: 1000 },
    );
  });

  it('names what is not a date instead of computing with it', () => {
    expect(() => daysBetween('2026-02-30', '2026-03-01')).toThrow(RangeError);
    expect(() => addDays('2026-02-30', 1)).toThrow(RangeError);
    expect(() => addMonths('yesterday', 1)).toThrow(RangeError);
    expect(() => addMonths('9999-12-31', 1)).toThrow(RangeError);
    expect(() => addMonths('2026-01-01', 0.5)).toThrow(RangeError);
    expect(() => startOfDay('2026-02-30', 'UTC')).toThrow(RangeError);
  });
});

describe('months', () => {
  it.each([
    ['2025-08-31', 6, '2026-02-28'],
    ['2023-08-31', 6, '2024-02-29'],
    ['2024-02-29', 12, '2025-02-28'],
    ['2024-02-29', 48, '2028-02-29'],
    ['2026-03-31', -1, '2026-02-28'],
    ['2026-01-15', -13, '2024-12-15'],
    ['2026-01-31', 0, '2026-01-31'],
  ])('%s and %d months is %s (clamped to the month)', (date, months, expected) => {
    expect(addMonths(date, months)).toBe(expected);
  });

  it('adds like Temporal', () => {
    fc.assert(
      fc.property(arbDate, fc.integer({ min: -1200, max: 1200 }), (date, months) => {
        expect(addMonths(date, months)).toBe(Temporal.PlainDate.from(date).add({ months }).toString());
      }),
      { numRuns: 1000 },
    );
  });

  it.each([
    ['2025-06-10', '2026-06-10', 12],
    ['2025-06-10', '2026-06-09', 11],
    ['2025-08-31', '2026-02-28', 6],
    ['2025-08-31', '2026-02-27', 5],
    ['2026-06-09', '2025-06-10', -11],
    ['2026-06-09', '2026-06-01', 0],
  ])('from %s to %s are %d whole months', (from, to, months) => {
    expect(wholeMonthsBetween(from, to)).toBe(months);
  });

  it('counts the most months that do not pass the later date', () => {
    fc.assert(
      fc.property(arbDate, arbDate, (a, b) => {
        const [from, to] = a <= b ? [a, b] : [b, a];
        const months = wholeMonthsBetween(from, to);
        expect(addMonths(from, months) <= to).toBe(true);
        expect(addMonths(from, months + 1) > to).toBe(true);
        expect(wholeMonthsBetween(to, from) + months).toBe(0);
      }),
      { numRuns: 1000 },
    );
  });

  it('ends the year of a label on 31 December', () => {
    expect(endOfYear('2015-01-10')).toBe('2015-12-31');
  });
});

describe('days at a venue', () => {
  it.each([
    ['2026-03-29', 'Europe/Paris', 23],
    ['2026-10-25', 'Europe/Paris', 25],
    ['2026-03-08', 'America/Los_Angeles', 23],
    ['2026-11-01', 'America/Los_Angeles', 25],
    ['2026-06-21', 'Europe/Paris', 24],
    ['2024-02-29', 'UTC', 24],
  ])('%s in %s has %d hours', (date, zone, length) => {
    expect(hours(startOfDay(date, zone), startOfNextDay(date, zone))).toBe(length);
  });

  it('is a day off from UTC where the venue is far west or far east', () => {
    expect(plainDateAt(new Date('2026-01-10T06:00:00Z'), 'America/Los_Angeles')).toBe('2026-01-09');
    expect(plainDateAt(new Date('2026-01-09T20:00:00Z'), 'Pacific/Tongatapu')).toBe('2026-01-10');
    expect(startOfDay('2026-01-10', 'America/Los_Angeles').toISOString()).toBe('2026-01-10T08:00:00.000Z');
    expect(startOfDay('2026-01-10', 'Pacific/Tongatapu').toISOString()).toBe('2026-01-09T11:00:00.000Z');
  });

  it('starts a day later than midnight where clocks go forward at midnight', () => {
    // Chile goes forward at 24:00 of Saturday 5 September 2026: Sunday starts at 01:00, which is 04:00 UTC
    expect(startOfDay('2026-09-06', 'America/Santiago').toISOString()).toBe('2026-09-06T04:00:00.000Z');
    expect(hours(startOfDay('2026-09-06', 'America/Santiago'), startOfNextDay('2026-09-06', 'America/Santiago'))).toBe(
      23,
    );
  });

  it('shows the date from its first instant to the last before the next', () => {
    const zone = fc.constantFrom('UTC', 'Europe/Paris', 'America/Los_Angeles', 'Pacific/Tongatapu', 'Asia/Kolkata');
    const recent = fc
      .date({ min: new Date('1990-01-01'), max: new Date('2060-12-31'), noInvalidDate: true })
      .map((date) => date.toISOString().slice(0, 10));
    fc.assert(
      fc.property(recent, zone, (date, timeZone) => {
        const start = startOfDay(date, timeZone);
        const end = startOfNextDay(date, timeZone);
        expect(plainDateAt(start, timeZone)).toBe(date);
        expect(plainDateAt(new Date(start.getTime() - 1), timeZone)).toBe(addDays(date, -1));
        expect(plainDateAt(new Date(end.getTime() - 1), timeZone)).toBe(date);
        expect(plainDateAt(end, timeZone)).toBe(addDays(date, 1));
      }),
    );
  });

  it.each(['Europe/Paris', 'UTC', 'America/St_Johns', 'Pacific/Tongatapu'])('knows the zone %s', (zone) => {
    expect(isTimeZone(zone)).toBe(true);
  });

  it.each(['Mars/Olympus', '+05:00', '-08:00', '', 'Europe/', '../etc/passwd'])('refuses the zone %j', (zone) => {
    expect(isTimeZone(zone)).toBe(false);
  });
});
