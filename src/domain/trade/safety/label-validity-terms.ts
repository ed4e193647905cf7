import { z } from 'zod';
import { addDays, addMonths, endOfYear, parsePlainDate, type PlainDate } from '../../calendar.ts';
import type { Standing } from '../calculation.ts';
import type { LabelTerm } from './label-validity-rules.ts';

/** How a punched month is read: its first day (strict), its last day, or 31 December of the year (some clubs). */
export const MONTH_READINGS = ['first-day', 'last-day', 'end-of-year'] as const;
type MonthReading = (typeof MONTH_READINGS)[number];

export const ACCEPTANCES = ['club', 'international', 'label-only'] as const;
type Acceptance = (typeof ACCEPTANCES)[number];

export interface LabelOptions {
  /** `first-day` when left out */
  monthReading?: MonthReading | undefined;
  /** whose lists count besides the label; `club` when left out */
  acceptance?: Acceptance | undefined;
  /** years instead of those of a rule that is `adjustable` */
  years?: number | undefined;
}

/** The dates of a label, read. */
export interface LabelSpans {
  madeOn?: LabelSpan | undefined;
  notValidAfter?: LabelSpan | undefined;
  /** in order */
  recertifiedOn: readonly LabelSpan[];
}

/** A rule with its last good day. */
export interface AppliedTerm {
  says: string;
  standing: Standing;
  source: string;
  weight: 'limit' | 'advice';
  /** last day that is still good; `null`: no end date */
  lastDay: PlainDate | null;
  /** how it was worked out, with the dates put in */
  numbers: string;
}

/** Whether an end rule belongs to what the organizer goes by. No units. Never throws. Source: that of the term. */
export function termCounts(term: LabelTerm, acceptance: Acceptance): boolean {
  return term.scope === undefined || term.scope === acceptance;
}

/**
 * The last good day by one rule of a label; `undefined` when the date it counts from is not given. Terms are in years,
 * dates YYYY-MM-DD.
 *
 * @throws RangeError when a result leaves the years 0001 to 9999
 * @see the source of the term
 */
export function applyTerm(term: LabelTerm, spans: LabelSpans, options: LabelOptions): AppliedTerm | undefined {
  const { says, standing, source, weight = 'limit' } = term;
  const end = endOf(term, spans, options);
  return end === undefined ? undefined : { says, standing, source, weight, ...end };
}

type End = Pick<AppliedTerm, 'lastDay' | 'numbers'>;

function endOf(term: LabelTerm, spans: LabelSpans, options: LabelOptions): End | undefined {
  switch (term.kind) {
    case 'open':
      return { lastDay: null, numbers: 'no end date' };
    case 'listed':
      return { lastDay: term.lastDay, numbers: `listed to ${term.lastDay}` };
    case 'printed': {
      const printed = spans.notValidAfter;
      return printed && { lastDay: printed.last, numbers: `not valid after ${printed.last}` };
    }
    case 'from-made':
      return countFrom(term, spans, options);
  }
}

type FromMade = Extract<LabelTerm, { kind: 'from-made' }>;

function countFrom(term: FromMade, spans: LabelSpans, options: LabelOptions): End | undefined {
  const newest = spans.recertifiedOn.at(-1);
  const renewed = term.recertified?.how === 'renews' ? newest : undefined;
  const from = renewed ?? spans.madeOn;
  if (from === undefined) return undefined;
  const extra = term.recertified?.how === 'extends' && newest !== undefined ? term.recertified.years : 0;
  const years = (term.adjustable ? (options.years ?? term.years) : term.years) + extra;
  const anniversary = addMonths(from.first, years * 12);
  return {
    lastDay: lastDayOf(anniversary, term.end, options.monthReading ?? 'first-day'),
    numbers: `${renewed ? 'recertified' : 'made'} ${from.first} + ${years} years, ${END_TEXT[term.end]}`,
  };
}

const END_TEXT: Readonly<Record<FromMade['end'], string>> = {
  'same-day': 'to the same day',
  'punched-month': 'in the same month',
  'end-of-year': 'to 31 December',
};

function lastDayOf(anniversary: PlainDate, end: FromMade['end'], reading: MonthReading): PlainDate {
  if (end === 'end-of-year') return endOfYear(anniversary);
  if (end === 'same-day' || reading === 'first-day') return anniversary;
  return reading === 'last-day' ? endOfMonth(anniversary) : endOfYear(anniversary);
}

/**
 * The term that ends first; of equal ones the first; `undefined` when none of them ends. Dates are YYYY-MM-DD. Never
 * throws. Source: ours, the strictest rule decides.
 */
export function earliestTerm(terms: readonly AppliedTerm[]): (AppliedTerm & { lastDay: PlainDate }) | undefined {
  let earliest: (AppliedTerm & { lastDay: PlainDate }) | undefined;
  for (const term of terms) {
    const { lastDay } = term;
    if (lastDay !== null && (earliest === undefined || lastDay < earliest.lastDay)) earliest = { ...term, lastDay };
  }
  return earliest;
}

const LABEL_YEAR = /^(?:19[5-9]|20\d)\d/u;

/** A date as labels give it: `2019`, `2019-06` or `2019-06-15`. */
export type LabelDate = string;

/** The days a label date can mean. */
export interface LabelSpan {
  first: PlainDate;
  last: PlainDate;
}

/**
 * The first and last day that a label date of 1950 to 2099 covers; `undefined` when it is not one. Slash dates and
 * two-digit years are not: `2/4/95` is two different days. Never throws.
 *
 * @see ISO 8601 forms; ambiguity of slash dates
 */
export function parseLabelDate(text: LabelDate): LabelSpan | undefined {
  if (!LABEL_YEAR.test(text)) return undefined;
  if (/^\d{4}$/u.test(text)) return spanFrom(`${text}-01-01`, endOfYear);
  if (/^\d{4}-\d{2}$/u.test(text)) return spanFrom(`${text}-01`, endOfMonth);
  const day = parsePlainDate(text);
  return day === undefined ? undefined : { first: day, last: day };
}

function spanFrom(text: string, end: (date: PlainDate) => PlainDate): LabelSpan | undefined {
  const first = parsePlainDate(text);
  return first === undefined ? undefined : { first, last: end(first) };
}

/**
 * The last day of the date's month. YYYY-MM-DD.
 *
 * @throws RangeError when it is not a date
 * @see the calendar, by definition
 */
function endOfMonth(date: PlainDate): PlainDate {
  return addDays(addMonths(`${date.slice(0, 8)}01`, 1), -1);
}

/**
 * Schema of a label date; labels are from 1950 to 2099. Years, months or days. Never throws. Source: `parseLabelDate`.
 */
export const labelDate = (what: string) =>
  z
    .string()
    .max(10)
    .refine((text) => parseLabelDate(text) !== undefined, {
      message: 'write 2019, 2019-06 or 2019-06-15 (1950 to 2099); slash dates can mean two days',
    })
    .describe(`${what}: a year, a year and month, or a date`);
