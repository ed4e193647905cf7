import { z } from 'zod';
import type { PlainDate } from '../../calendar.ts';
import { roundTo } from '../../quantity.ts';
import { calculation, notComputable, NotComputable } from '../calculation.ts';
import {
  type AppliedTerm,
  applyTerm,
  earliestTerm,
  type LabelDate,
  type LabelOptions,
  type LabelSpan,
  type LabelSpans,
  parseLabelDate,
  termCounts,
} from './label-validity-terms.ts';
import { findLabelRule, type LabelRule, type LabelTerm } from './label-validity-rules.ts';

/**
 * Seconds to a second-degree burn of a suit, from its thermal protective performance in cal/cm²: half of it, by the
 * heat flux of 2 cal/cm²·s of the test (the flux is from memory).
 *
 * @throws NotComputable `/thermalProtectivePerformance` not above 0
 * @see SFI 3.2A, secondary source: TPP divided by 2 is about the seconds to a second-degree burn
 */
export function secondsToBurn(thermalProtectivePerformance: number): number {
  if (!(thermalProtectivePerformance > 0)) {
    throw notComputable('/thermalProtectivePerformance', 'not-positive', 'A rating is above 0.');
  }
  return thermalProtectivePerformance / 2;
}

const Input = z.strictObject({
  thermalProtectivePerformance: z.number().min(0.1).max(200).describe('TPP of the suit, cal/cm²'),
});

const Result = z.object({
  secondsToBurn: z.number().describe('Time to a second-degree burn in the test flame, s'),
});

/** `suit-protection`: seconds to a second-degree burn from the rating of a suit. */
export const SUIT_PROTECTION = calculation({
  name: 'suit-protection',
  title: 'How long a suit protects',
  summary: 'Seconds to a second-degree burn from the thermal protective performance (TPP) of a suit.',
  input: Input,
  result: Result,
  sources: [{ title: 'SFI 3.2A: TPP divided by 2, secondary source', standing: 'secondary' }],
  example: { thermalProtectivePerformance: 19 },
  compute({ thermalProtectivePerformance: rating }) {
    const seconds = secondsToBurn(rating);
    return {
      result: { secondsToBurn: roundTo(seconds, 1) },
      steps: [
        { what: 'Time to burn', formula: 't = TPP / 2', numbers: `${rating} / 2`, result: `${roundTo(seconds, 1)} s` },
      ],
      assumptions: [{ name: 'Heat flux', value: '2 cal/cm²·s, as in the test', standing: 'from-memory' }],
      cautions: ['Underwear, gloves and shoes of the same kind belong to it; a fire on track is not the test flame.'],
    };
  },
});

/** What a label says. Dates as `2019`, `2019-06` or `2019-06-15`. */
export interface LabelDates {
  madeOn?: LabelDate | undefined;
  /** "not valid after", "valid until" */
  notValidAfter?: LabelDate | undefined;
  /** recertifications by the maker, in any order */
  recertifiedOn?: readonly LabelDate[] | undefined;
}

/** How long a label is good. `unknown` is never valid: a date is missing and no rule can do without it. */
export type Validity =
  | {
      ends: 'on';
      lastDay: PlainDate;
      decidedBy: AppliedTerm;
      terms: readonly AppliedTerm[];
      advice: AppliedTerm | null;
    }
  | { ends: 'never'; decidedBy: AppliedTerm; terms: readonly AppliedTerm[]; advice: AppliedTerm | null }
  | { ends: 'unknown'; missing: 'madeOn' | 'notValidAfter'; terms: readonly AppliedTerm[] };

/** Stands for "no end date" where a date is needed: later than any event. */
export const NO_END_DATE: PlainDate = '9999-12-31';

/**
 * The last day on which equipment with a label may be used: of all its rules the one that ends first decides.
 *
 * @param dates as on the label; what it does not give is left out
 * @param options how the organizer reads punched months and whose acceptance lists count
 * @returns the last good day (inclusive), every rule that was applied, and the recommendation if there is one
 * @throws NotComputable `/madeOn`, `/notValidAfter`, `/recertifiedOn/n`: a date that cannot be read, an order of dates
 * that cannot be, or a recertification where the label knows none
 * @see the source of each rule in `LABEL_RULES`
 */
export function validThrough(rule: LabelRule, dates: LabelDates, options: LabelOptions = {}): Validity {
  const spans = readSpans(rule, dates);
  const counting = rule.terms.filter((term) => termCounts(term, options.acceptance ?? 'club'));
  const terms = counting.flatMap((term) => applyTerm(term, spans, options) ?? []);
  const needsMade = counting.some((term) => term.kind === 'from-made' && term.weight !== 'advice');
  // an acceptance list alone says nothing about a label whose own life is counted from a date that is missing
  if (needsMade && !dates.notValidAfter && !hasStart(rule, spans)) return { ends: 'unknown', missing: 'madeOn', terms };
  const limits = terms.filter(({ weight }) => weight === 'limit');
  const advice = terms.find(({ weight }) => weight === 'advice') ?? null;
  const decidedBy = earliestTerm(limits);
  if (decidedBy !== undefined) return { ends: 'on', lastDay: decidedBy.lastDay, decidedBy, terms, advice };
  const open = limits[0];
  if (open !== undefined) return { ends: 'never', decidedBy: open, terms, advice };
  return { ends: 'unknown', missing: 'notValidAfter', terms };
}

const hasStart = (rule: LabelRule, { madeOn, recertifiedOn }: LabelSpans): boolean =>
  madeOn !== undefined || (recertifiedOn.length > 0 && rule.terms.some(renews));

const renews = (term: LabelTerm): boolean => term.kind === 'from-made' && term.recertified?.how === 'renews';

/**
 * The last good day of a label for rules and facts: `NO_END_DATE` when it has no end, `undefined` when the label is
 * not known, a date is missing or the dates cannot be. Never throws.
 *
 * @see `validThrough`
 */
export function labelLastDay(label: string, dates: LabelDates, options: LabelOptions = {}): PlainDate | undefined {
  const rule = findLabelRule(label);
  if (rule === undefined) return undefined;
  try {
    const validity = validThrough(rule, dates, options);
    if (validity.ends === 'unknown') return undefined;
    return validity.ends === 'on' ? validity.lastDay : NO_END_DATE;
  } catch (error) {
    // dates that cannot be are "not known" to a rule; anything else is a fault of ours
    if (error instanceof NotComputable) return undefined;
    throw error;
  }
}

/**
 * The earliest of several last days: of a set of straps, each with its own label, the earliest governs. `undefined`
 * for none, or when one of them is not known. Dates are YYYY-MM-DD. Never throws. Source: common practice.
 */
export function earliestLastDay(lastDays: readonly (PlainDate | undefined)[]): PlainDate | undefined {
  const known = lastDays.filter((day) => day !== undefined);
  if (known.length < lastDays.length) return undefined;
  return known.reduce<PlainDate | undefined>(
    (least, day) => (least === undefined || day < least ? day : least),
    undefined,
  );
}

function readSpans(rule: LabelRule, dates: LabelDates): LabelSpans {
  const faults: { pointer: string; code: string; detail: string }[] = [];
  const read = (pointer: string, text: LabelDate | undefined): LabelSpan | undefined => {
    const span = text === undefined ? undefined : parseLabelDate(text);
    if (text !== undefined && span === undefined) faults.push({ pointer, code: 'not-a-date', detail: NOT_A_DATE });
    return span;
  };
  const madeOn = read('/madeOn', dates.madeOn);
  const notValidAfter = read('/notValidAfter', dates.notValidAfter);
  const before = (span: LabelSpan | undefined) => span && madeOn && span.last < madeOn.first;
  if (before(notValidAfter)) faults.push({ pointer: '/notValidAfter', code: 'before-made', detail: BEFORE_MADE });
  const recertifiedOn = (dates.recertifiedOn ?? []).flatMap((text, index) => {
    const pointer = `/recertifiedOn/${index}`;
    const span = read(pointer, text);
    if (before(span)) faults.push({ pointer, code: 'before-made', detail: BEFORE_MADE });
    return span ?? [];
  });
  const canRenew = rule.terms.some((term) => term.kind === 'from-made' && term.recertified !== undefined);
  if (!canRenew && recertifiedOn.length > 0) {
    faults.push({
      pointer: '/recertifiedOn',
      code: 'no-recertification',
      detail: 'This label knows no recertification.',
    });
  }
  if (faults.length > 0) throw new NotComputable(faults);
  return { madeOn, notValidAfter, recertifiedOn: recertifiedOn.sort((a, b) => (a.first < b.first ? -1 : 1)) };
}

const NOT_A_DATE = 'Write 2019, 2019-06 or 2019-06-15 (1950 to 2099); slash dates can mean two days.';
const BEFORE_MADE = 'This is before the date of manufacture.';

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
