import fc from 'fast-check';
import { DateTime } from 'luxon';
import { describe, expect, it } from 'vitest';
import { addDays, daysBetween, endOfYear } from '../../../../../src/domain/calendar.ts';
import {
  daysOfWeek,
  findIsoWeek,
  findSundayWeek,
  readTyreCode,
  TYRE_AGE,
  tyreAgeMonths,
  tyreMadeBetween,
} from '../../../../../src/domain/trade/tyres/tyre-age.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

const YEARS = Array.from({ length: 100 }, (_, index) => 2000 + index);
const WEEKS = Array.from({ length: 53 }, (_, index) => index + 1);
const two = (value: number): string => String(value).padStart(2, '0');
const arbCode = fc
  .tuple(fc.integer({ min: 1, max: 53 }), fc.integer({ min: 0, max: 99 }))
  .map(([week, year]) => `${two(week)}${two(year)}`);
const arbDay = fc.integer({ min: 0, max: 40_000 }).map((days) => addDays('2000-01-01', days));

describe('weeks against an independent calendar library', () => {
  const weekFrom = (start: DateTime) => ({ earliest: start.toISODate(), latest: start.plus({ days: 6 }).toISODate() });

  it('ISO weeks of all years from 2000 to 2099', () => {
    const theirs = (year: number, week: number) => {
      const monday = DateTime.fromObject({ weekYear: year, weekNumber: 1, weekday: 1 }).plus({ weeks: week - 1 });
      return monday.weekYear === year ? weekFrom(monday) : undefined;
    };
    for (const year of YEARS) {
      expect(WEEKS.map((week) => findIsoWeek(year, week))).toEqual(WEEKS.map((week) => theirs(year, week)));
    }
  });

  it('Sunday weeks of all years from 2000 to 2099: week 1 is the first full one', () => {
    for (const year of YEARS) {
      let sunday = DateTime.fromISO(`${year}-01-01`);
      while (sunday.weekday !== 7) sunday = sunday.plus({ days: 1 });
      const theirs = WEEKS.map((week) => sunday.plus({ weeks: week - 1 })).map((start) =>
        start.year === year ? weekFrom(start) : undefined,
      );
      expect(WEEKS.map((week) => findSundayWeek(year, week))).toEqual(theirs);
    }
  });

  it('years with 53 Sundays and ISO years with 53 weeks are different years', () => {
    const until2028 = YEARS.filter((year) => year <= 2028);
    expect(until2028.filter((year) => findSundayWeek(year, 53) !== undefined)).toEqual([
      2000, 2006, 2012, 2017, 2023, 2028,
    ]);
    expect(until2028.filter((year) => findIsoWeek(year, 53) !== undefined)).toEqual([2004, 2009, 2015, 2020, 2026]);
  });
});

describe('daysOfWeek', () => {
  it('covers both counts, is 7 to 14 days long and overlaps its year', () => {
    const fits = (year: number, week: number): boolean => {
      const { earliest, latest } = daysOfWeek(year, week);
      const length = daysBetween(earliest, latest) + 1;
      const overlaps = earliest <= endOfYear(`${year}-01-01`) && latest >= `${year}-01-01`;
      return length >= 7 && length <= 14 && overlaps;
    };
    const misfits = YEARS.flatMap((year) => WEEKS.filter((week) => !fits(year, week)).map((week) => [year, week]));
    expect(misfits).toEqual([]);
  });

  it('a week 53 that neither count has begins in the last days of its year', () => {
    expect(daysOfWeek(2022, 53)).toEqual({ earliest: '2022-12-25', latest: '2023-01-07' });
  });

  it('week 1 may begin in the year before, the last week may end in the year after', () => {
    expect(daysOfWeek(2015, 1)).toEqual({ earliest: '2014-12-29', latest: '2015-01-10' });
    expect(daysOfWeek(2020, 52)).toEqual({ earliest: '2020-12-21', latest: '2021-01-02' });
  });

  it.each([0, 54, 1.5, Number.NaN])('week %s is a RangeError', (week) => {
    expect(() => daysOfWeek(2020, week)).toThrow(RangeError);
  });
});

describe('tyre codes', () => {
  it.each([
    ['436', 'ambiguous-decade'],
    ['031', 'ambiguous-decade'],
    ['0024', 'no-such-week'],
    ['5424', 'no-such-week'],
    ['9924', 'no-such-week'],
    ['', 'bad-code'],
    ['23 24', 'bad-code'],
    ['2324X', 'bad-code'],
    ['23244', 'bad-code'],
    ['²³²⁴', 'bad-code'],
  ])('refuses %j as %s', (code, expected) => {
    expect(faultsOf(() => readTyreCode(code))).toMatchObject([{ pointer: '/code', code: expected }]);
    expect(tyreMadeBetween(code)).toBeUndefined();
    expect(tyreAgeMonths(code, '2026-06-13')).toBeUndefined();
  });

  // three digits ended in July 2000: 436 is 1996, 1986 or 1976 and never 2006
  it('says what three digits may be', () => {
    const [fault] = faultsOf(() => readTyreCode('436'));
    expect(fault?.detail).toContain('1996 or 1986 or 1976');
    expect(fault?.detail).not.toContain('2006');
    expect(faultsOf(() => readTyreCode('100'))[0]?.detail).toContain('2000 or 1990');
    expect(faultsOf(() => readTyreCode('400'))[0]?.detail).not.toContain('2000');
  });

  it('a code of the future has no age', () => {
    expect(tyreAgeMonths('2499', '2026-06-13')).toBeUndefined();
    expect(tyreAgeMonths('2326', '2026-05-31')).toBeUndefined();
  });

  it('something that is not a date gives no age', () => {
    expect(tyreAgeMonths('2324', '2026-02-30')).toBeUndefined();
    expect(tyreAgeMonths('2324', '13/06/2026')).toBeUndefined();
  });

  it('counts from the earliest day, over leap days and year ends', () => {
    // ISO week 9 of 2024 begins on 26 February, Sunday week 9 on 3 March
    expect(tyreMadeBetween('0924')).toEqual({ earliest: '2024-02-26', latest: '2024-03-09' });
    expect(tyreAgeMonths('0924', '2025-02-25')).toBe(11);
    expect(tyreAgeMonths('0924', '2025-02-26')).toBe(12);
    expect(tyreAgeMonths('0115', '2014-12-29')).toBe(0);
    expect(tyreAgeMonths('0115', '2014-12-28')).toBeUndefined();
  });

  it('never gets younger', () => {
    fc.assert(
      fc.property(arbCode, arbDay, fc.integer({ min: 0, max: 4000 }), (code, day, later) => {
        const age = tyreAgeMonths(code, day);
        if (age === undefined) return;
        expect(age).toBeGreaterThanOrEqual(0);
        expect(tyreAgeMonths(code, addDays(day, later)) ?? -1).toBeGreaterThanOrEqual(age);
      }),
    );
  });

  it('an age is whole months by the calendar library', () => {
    fc.assert(
      fc.property(arbCode, arbDay, (code, day) => {
        const age = tyreAgeMonths(code, day);
        const made = tyreMadeBetween(code);
        if (age === undefined || made === undefined) return;
        const from = DateTime.fromISO(made.earliest, { zone: 'utc' });
        expect(from.plus({ months: age }).toISODate() ?? '9').not.toBe('9');
        expect((from.plus({ months: age }).toISODate() ?? '9') <= day).toBe(true);
        expect((from.plus({ months: age + 1 }).toISODate() ?? '0') > day).toBe(true);
      }),
    );
  });
});

describe('tyre-age', () => {
  const age = (body: object) => runCalculation(TYRE_AGE, { code: '2324', onDay: '2026-06-13', ...body });

  it('works its example', () => {
    expect(runCalculation(TYRE_AGE, TYRE_AGE.example).result).toEqual({
      week: 23,
      year: 2024,
      madeEarliest: '2024-06-03',
      madeLatest: '2024-06-15',
      ageMonths: 24,
      ageAtLeastMonths: 23,
      standing: 'within-limits',
    });
  });

  it('six and ten years, on the day', () => {
    const standing = (onDay: string) => age({ onDay }).result.standing;
    expect(standing('2030-06-02')).toBe('within-limits');
    expect(standing('2030-06-03')).toBe('inspect');
    expect(standing('2034-06-02')).toBe('inspect');
    expect(standing('2034-06-03')).toBe('too-old');
  });

  it('names a limit as an assumption only where it is not given', () => {
    const names = (body: object) => age(body).assumptions.map(({ name }) => name);
    expect(names({})).toEqual(expect.arrayContaining(['inspectFromYears', 'refuseFromYears']));
    expect(names({ inspectFromYears: 5, refuseFromYears: 7 })).not.toContain('inspectFromYears');
  });

  it('refuses a tyre made later and crossed limits', () => {
    expect(faultsOf(() => age({ onDay: '2024-06-02' }))).toMatchObject([{ pointer: '/code', code: 'made-later' }]);
    expect(faultsOf(() => age({ inspectFromYears: 11 }))).toMatchObject([
      { pointer: '/inspectFromYears', code: 'limits-crossed' },
    ]);
  });
});
