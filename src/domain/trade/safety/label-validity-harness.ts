import type { PlainDate } from '../../calendar.ts';
import { findLabelRule } from './label-validity-rules.ts';
import { labelLastDay } from './label-validity.ts';

/** What the date on a label is: the day of manufacture, or the last good one. */
export const LABEL_DATE_KINDS = ['not-valid-after', 'made-on'] as const;
export type LabelDateKind = (typeof LABEL_DATE_KINDS)[number];

export interface HarnessLabel {
  standard: string;
  /** as it was typed: the last good day, or the first of the month of manufacture */
  date: PlainDate;
  /** absent: nobody said which date the label shows */
  shows?: LabelDateKind | undefined;
  /** a date of manufacture is not later than this */
  onDay: PlainDate;
}

/** The last day by the two readings of a label; both are the same where it is known which date it shows. */
export interface HarnessLastDays {
  earliest: PlainDate;
  latest: PlainDate;
}

/**
 * The last day of one strap. FIA labels show the last year; SFI labels the month of manufacture until 2014 and the last
 * day since 2015, so that of those somebody must say which. A date after the event is no date of manufacture. Dates are
 * YYYY-MM-DD. Never throws; `undefined` where no rule gives a day.
 *
 * @see `labelLastDay`; the change of the SFI label in 2015: presentation of the foundation
 */
export function harnessLastDays({ standard, date, shows, onDay }: HarnessLabel): HarnessLastDays | undefined {
  const printed = shows === 'made-on' ? undefined : labelLastDay(standard, { notValidAfter: date });
  const made = shows === 'not-valid-after' || date > onDay ? undefined : fromMade(standard, date);
  if (shows === 'made-on') return made === undefined ? undefined : { earliest: made, latest: made };
  if (printed === undefined) return undefined;
  if (shows === 'not-valid-after' || made === undefined || !showsEither(standard))
    return { earliest: printed, latest: printed };
  return printed < made ? { earliest: printed, latest: made } : { earliest: made, latest: printed };
}

/** Labels give a month of manufacture, and the day that is typed stands for it. */
const fromMade = (standard: string, date: PlainDate): PlainDate | undefined =>
  labelLastDay(standard, { madeOn: date.slice(0, 7) });

/** Standards whose labels show one or the other: those that are counted from a punched month. */
function showsEither(standard: string): boolean {
  const terms = findLabelRule(standard)?.terms ?? [];
  return terms.some((term) => term.kind === 'from-made' && term.end === 'punched-month');
}
