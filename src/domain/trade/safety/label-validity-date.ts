import { z } from 'zod';
import { addDays, addMonths, endOfYear, type PlainDate, parsePlainDate } from '../../calendar.ts';

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
export function endOfMonth(date: PlainDate): PlainDate {
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
