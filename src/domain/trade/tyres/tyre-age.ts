import { z } from 'zod';
import { addDays, daysBetween, endOfYear, isPlainDate, type PlainDate, wholeMonthsBetween } from '../../calendar.ts';
import {
  type Assumption,
  calculation,
  notComputable,
  type Source,
  type NotComputable,
  type WorkStep,
} from '../calculation.ts';

/** First and last day of something, both included. */
interface DayInterval {
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

const MONTHS_IN_YEAR = 12;
/** Four digits were required from July 2000; a plant may have used them from the first week of that year. */
const CENTURY = 2000;
/** What the last of three digits can mean, newest first: such codes ended in July 2000, in week 27. */
const DECADES = [2000, 1990, 1980, 1970];
const isWithinThreeDigits = (year: number, week: number): boolean => year < CENTURY || (year === CENTURY && week <= 27);

/**
 * Week and year of a tyre's four-digit date code: `2324` is week 23 of 2024.
 *
 * @throws NotComputable at `/code`: `ambiguous-decade` for three digits, `bad-code` for anything else that is not four
 *   digits, `no-such-week` for week 00 or 54 and above
 * @see 49 CFR 574.5 with 64 FR 36807 (final four digits WWYY, three digits WWY before; regulation read)
 */
export function readTyreCode(code: string): { week: number; year: number } {
  if (/^\d{3}$/u.test(code)) throw ambiguous(code);
  if (!/^\d{4}$/u.test(code)) {
    throw notComputable(
      '/code',
      'bad-code',
      `${JSON.stringify(code)} is not the last four digits of the identification number.`,
    );
  }
  const week = Number(code.slice(0, 2));
  if (week < 1 || week > 53) {
    throw notComputable('/code', 'no-such-week', `There is no week ${code.slice(0, 2)}; weeks are 01 to 53.`);
  }
  return { week, year: CENTURY + Number(code.slice(2)) };
}

function ambiguous(code: string): NotComputable {
  const week = Number(code.slice(0, 2));
  const years = DECADES.map((decade) => decade + Number(code.slice(2))).filter((year) =>
    isWithinThreeDigits(year, week),
  );
  return notComputable(
    '/code',
    'ambiguous-decade',
    `Three digits do not tell the decade: ${code} may be week ${week} of ${years.join(' or ')}, never later.`,
  );
}

/**
 * The days a tyre with this date code may have been made on; both ends included. Covers the Sunday weeks of US rules
 * and ISO weeks. `undefined` for a code that cannot be used (`readTyreCode`). Never throws. Source: `daysOfWeek`.
 */
export function tyreMadeBetween(code: string): DayInterval | undefined {
  if (!/^(?:0[1-9]|[1-4]\d|5[0-3])\d\d$/u.test(code)) return undefined;
  const { week, year } = readTyreCode(code);
  return daysOfWeek(year, week);
}

/**
 * Whole months from the earliest day the tyre may have been made on to a day: the worst case. `undefined` for a code
 * that cannot be used, for a tyre made only after that day, and when `onDay` is not a date. Never throws. Source:
 * `tyreMadeBetween`.
 */
export function tyreAgeMonths(code: string, onDay: PlainDate): number | undefined {
  const made = tyreMadeBetween(code);
  if (made === undefined || !isPlainDate(onDay) || made.earliest > onDay) return undefined;
  return wholeMonthsBetween(made.earliest, onDay);
}

const SOURCES: readonly Source[] = [
  { title: '49 CFR 574.5 and 64 FR 36807 (8 July 1999): date code of week and year', standing: 'published' },
  { title: 'Explanations of 49 CFR 574.5: week 01 is the first full calendar week', standing: 'secondary' },
  { title: 'ISO 8601 week numbers', standing: 'secondary' },
];

const years = (what: string) => z.number().positive().max(40).describe(what);
const input = z.strictObject({
  code: z
    .string()
    .max(20)
    .describe('Last four digits of the tyre identification number: week and year, 2324 is week 23 of 2024'),
  onDay: z
    .string()
    .refine(isPlainDate, 'a date that exists, YYYY-MM-DD')
    .describe('Day the age is asked for, at the venue'),
  inspectFromYears: years('Age in years from which the tyre is looked at; 6 where not given').optional(),
  refuseFromYears: years('Age in years from which the tyre is refused; 10 where not given').optional(),
});
type Input = z.infer<typeof input>;

const result = z.object({
  week: z.int().describe('Week of manufacture, 1 to 53'),
  year: z.int().describe('Year of manufacture'),
  madeEarliest: z.string().describe('First day the tyre may have been made on, YYYY-MM-DD'),
  madeLatest: z.string().describe('Last day the tyre may have been made on, YYYY-MM-DD'),
  ageMonths: z.int().describe('Whole months from the earliest day: the age that counts, months'),
  ageAtLeastMonths: z.int().describe('Whole months from the latest day, not below 0, months'),
  standing: z.enum(['within-limits', 'inspect', 'too-old']).describe('Against the two age limits'),
});
type Result = z.infer<typeof result>;

function judge(ageMonths: number, inspectFrom: number, refuseFrom: number): Result['standing'] {
  if (ageMonths >= refuseFrom * MONTHS_IN_YEAR) return 'too-old';
  return ageMonths >= inspectFrom * MONTHS_IN_YEAR ? 'inspect' : 'within-limits';
}

function limitAssumptions({ inspectFromYears, refuseFromYears }: Input): Assumption[] {
  const missing: Assumption[] = [];
  if (inspectFromYears === undefined) {
    missing.push({ name: 'inspectFromYears', value: '6 years', standing: 'common-practice' });
  }
  if (refuseFromYears === undefined) {
    missing.push({ name: 'refuseFromYears', value: '10 years', standing: 'common-practice' });
  }
  return missing;
}

const show = (days: DayInterval | undefined): string =>
  days === undefined ? 'none' : `${days.earliest} to ${days.latest}`;

function explain(code: string, worked: Result, onDay: PlainDate): WorkStep[] {
  const { week, year } = worked;
  return [
    { what: 'week and year', formula: 'WWYY', numbers: code, result: `week ${week} of ${year}` },
    {
      what: 'days that week may mean',
      formula: 'Sunday week and ISO week of that number together',
      numbers: `Sunday week: ${show(findSundayWeek(year, week))}; ISO week: ${show(findIsoWeek(year, week))}`,
      result: `${worked.madeEarliest} to ${worked.madeLatest}`,
    },
    {
      what: 'age, worst case',
      formula: 'whole months from the earliest day',
      numbers: `${worked.madeEarliest} to ${onDay}`,
      result: `${worked.ageMonths} months`,
    },
  ];
}

/** Age of a tyre from its date code, as the worst case of the week it was made in. */
export const TYRE_AGE = calculation({
  name: 'tyre-age',
  title: 'Tyre age',
  summary: 'Tyre date code to the days it may have been made on and its age on a day, counted from the earliest.',
  input,
  result,
  sources: SOURCES,
  example: { code: '2324', onDay: '2026-06-13' },
  compute(asked) {
    const { week, year } = readTyreCode(asked.code);
    const made = daysOfWeek(year, week);
    if (made.earliest > asked.onDay) {
      const detail = `Week ${week} of ${year} begins after ${asked.onDay}: the code was misread or the day is wrong.`;
      throw notComputable('/code', 'made-later', detail);
    }
    const [inspectFrom, refuseFrom] = [asked.inspectFromYears ?? 6, asked.refuseFromYears ?? 10];
    if (inspectFrom > refuseFrom) {
      throw notComputable(
        '/inspectFromYears',
        'limits-crossed',
        `${inspectFrom} years is above the limit of ${refuseFrom} years.`,
      );
    }
    const ageMonths = wholeMonthsBetween(made.earliest, asked.onDay);
    const worked: Result = {
      week,
      year,
      madeEarliest: made.earliest,
      madeLatest: made.latest,
      ageMonths,
      ageAtLeastMonths: Math.max(0, wholeMonthsBetween(made.latest, asked.onDay)),
      standing: judge(ageMonths, inspectFrom, refuseFrom),
    };
    return {
      result: worked,
      steps: explain(asked.code, worked, asked.onDay),
      assumptions: [
        { name: 'week count', value: 'Sunday weeks and ISO weeks are both possible', standing: 'derived' },
        { name: 'first day of a week', value: 'Sunday, for plants under US rules', standing: 'from-memory' },
        ...limitAssumptions(asked),
      ],
      cautions: ['Age limits are rules of clubs and makers; no US federal rule limits the age of a tyre.'],
    };
  },
});
