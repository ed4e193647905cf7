import { addMonths, daysBetween, isPlainDate, type PlainDate, plainDateAt } from '../../calendar.ts';
import { notComputable, type Standing, NotComputable } from '../calculation.ts';
import { type AppliedTerm, earliestTerm } from '../safety/label-validity-terms.ts';

/** What is serviced by the calendar and has no label that ends. */
export const SERVICE_KINDS = [
  'engine-oil',
  'brake-fluid',
  'clutch-fluid',
  'gearbox-fluid',
  'differential-fluid',
  'coolant',
  'damper',
  'extinguisher',
] as const;
type ServiceKind = (typeof SERVICE_KINDS)[number];

export const DAMPER_USES = ['club', 'professional'] as const;
type DamperUse = (typeof DAMPER_USES)[number];

/** One interval, in months from the last service. */
interface Interval {
  months: number;
  /** `limit`: due; `advice`: recommended from then on */
  weight: 'limit' | 'advice';
  says: string;
  standing: Standing;
  source: string;
}

const practice = (months: number, says: string, weight: 'limit' | 'advice' = 'limit'): Interval => ({
  months,
  weight,
  says,
  standing: 'common-practice',
  source: 'common practice, no source; organizers differ',
});

/** UK national motorsport rules from 2018-01-01; the other half of the rule is the maker's interval. */
const EXTINGUISHER: Interval = {
  months: 24,
  weight: 'limit',
  says: "24 months, or the maker's interval if that is sooner",
  standing: 'secondary',
  source: 'UK national motorsport rules from 2018-01-01, quoted',
};

/** NFPA 10 as quoted: an extinguisher that cannot be refilled ends 12 years after it was made. */
const DISPOSABLE_EXTINGUISHER_YEARS = 12;

const DAMPER: Readonly<Record<DamperUse, readonly Interval[]>> = {
  professional: [practice(12, 'dampers in professional use, every 12 months')],
  club: [
    practice(36, 'dampers in club use, every 36 months'),
    practice(24, 'dampers in club use, advised after 24 months', 'advice'),
  ],
};

const FLUIDS: Readonly<Record<Exclude<ServiceKind, 'damper' | 'extinguisher'>, Interval>> = {
  'engine-oil': practice(12, 'engine oil, every 12 months'),
  'brake-fluid': practice(6, 'brake fluid on track, every 6 months'),
  'clutch-fluid': practice(12, 'clutch fluid, every 12 months'),
  'gearbox-fluid': practice(12, 'gearbox fluid, every 12 months whatever the number of events'),
  'differential-fluid': practice(12, 'differential fluid, every 12 months whatever the number of events'),
  coolant: practice(24, 'coolant, every 24 months'),
};

/**
 * The intervals of a kind of service: defaults that organizers replace. Dampers whose use is not stated are taken as
 * professional, the shorter interval. Intervals are in months. Never throws.
 *
 * @see common practice; UK national rules for extinguishers
 */
function intervalsOf(kind: ServiceKind, use: DamperUse = 'professional'): readonly Interval[] {
  if (kind === 'damper') return DAMPER[use];
  return kind === 'extinguisher' ? [EXTINGUISHER] : [FLUIDS[kind]];
}

/** A service that was done. */
export interface DoneService {
  kind: ServiceKind;
  /** day of the last service at the venue or workshop, `YYYY-MM-DD` */
  doneOn: PlainDate;
  /** months instead of the default interval */
  everyMonths?: number | undefined;
  /** the maker's own interval, months; it counts beside the other and the sooner one decides */
  makerMonths?: number | undefined;
  /** of dampers; professional when left out */
  damperUse?: DamperUse | undefined;
  /** of an extinguisher that cannot be refilled: the day it was made */
  disposableMadeOn?: PlainDate | undefined;
}

/** When a service is due, by the rule that comes first. */
export interface Due {
  /** last good day, inclusive */
  lastDay: PlainDate;
  decidedBy: AppliedTerm;
  /** from the day after this one it is recommended; `null` where nothing is recommended earlier */
  advisedUntil: PlainDate | null;
  terms: readonly AppliedTerm[];
}

/**
 * The last good day of a service: every interval that applies is counted by the calendar (months clamp to the end of
 * the month) and the earliest decides.
 *
 * @throws NotComputable `/doneOn` or `/disposableMadeOn` not a date from 1900 to 2199, `/everyMonths` or `/makerMonths` not whole and
 * above 0
 * @see common practice; extinguishers: UK national rules, the maker's interval or 24 months, whichever is sooner
 */
export function serviceDue(service: DoneService): Due {
  const terms = [...intervalTerms(service), ...makerTerm(service), ...disposableTerm(service)];
  const decidedBy = earliestTerm(terms.filter(({ weight }) => weight === 'limit'));
  // every kind has an interval that limits, so this is a fault of the table and not of the input
  if (decidedBy === undefined) throw new RangeError(`no interval for ${service.kind}`);
  const advice = terms.find(({ weight }) => weight === 'advice');
  return { lastDay: decidedBy.lastDay, decidedBy, advisedUntil: advice?.lastDay ?? null, terms };
}

function intervalTerms({ kind, doneOn, everyMonths, damperUse }: DoneService): AppliedTerm[] {
  const own = (months: number): Interval => ({
    months,
    weight: 'limit',
    says: `every ${months} months, as stated`,
    standing: 'common-practice',
    source: 'stated by the caller',
  });
  const intervals = everyMonths === undefined ? intervalsOf(kind, damperUse) : [own(everyMonths)];
  return intervals.map((interval) => counted(interval, doneOn, '/everyMonths'));
}

function makerTerm({ makerMonths, doneOn }: DoneService): AppliedTerm[] {
  if (makerMonths === undefined) return [];
  const interval: Interval = {
    months: makerMonths,
    weight: 'limit',
    says: `the maker's interval of ${makerMonths} months`,
    standing: 'secondary',
    source: 'the maker, as stated by the caller',
  };
  return [counted(interval, doneOn, '/makerMonths')];
}

function disposableTerm({ disposableMadeOn }: DoneService): AppliedTerm[] {
  if (disposableMadeOn === undefined) return [];
  const interval: Interval = {
    months: DISPOSABLE_EXTINGUISHER_YEARS * 12,
    weight: 'limit',
    says: 'an extinguisher that cannot be refilled ends 12 years after it was made',
    standing: 'secondary',
    source: 'NFPA 10, quoted',
  };
  return [counted(interval, disposableMadeOn, '/disposableMadeOn', '/disposableMadeOn')];
}

/** No service was done outside these; intervals counted from here stay within the calendar. */
const EARLIEST: PlainDate = '1900-01-01';
const LATEST: PlainDate = '2199-12-31';

function counted(interval: Interval, from: PlainDate, monthsAt: string, dateAt = '/doneOn'): AppliedTerm {
  const { months, weight, says, standing, source } = interval;
  if (!isPlainDate(from) || from < EARLIEST || from > LATEST) {
    throw notComputable(dateAt, 'not-a-date', 'Write a date that exists as YYYY-MM-DD, from 1900 to 2199.');
  }
  if (!Number.isInteger(months) || months < 1 || months > 600) {
    throw notComputable(monthsAt, 'not-months', 'An interval is a whole number of months from 1 to 600.');
  }
  return { says, standing, source, weight, lastDay: addMonths(from, months), numbers: `${from} + ${months} months` };
}

/** Where a last good day stands on a given day. */
export interface Remaining {
  /** days from the day to the last good day: 0 on it, negative when overdue */
  daysLeft: number;
  overdue: boolean;
}

/**
 * Days left on a day, both dates `YYYY-MM-DD`. The last good day itself is not overdue.
 *
 * @throws RangeError when one is not a date
 * @see day counts by definition of the calendar
 */
export function remainingOn(day: PlainDate, lastDay: PlainDate): Remaining {
  const daysLeft = daysBetween(day, lastDay);
  return { daysLeft, overdue: daysLeft < 0 };
}

/**
 * Days left at an instant: due dates are civil dates, so the day is the one that clocks at the place show. At one
 * instant a place at UTC−8 and one at UTC+13 are on different days.
 *
 * @throws RangeError for an unknown zone, an invalid instant or a text that is no date
 * @see time zones of the runtime; day counts by definition of the calendar
 */
export function remainingAt(instant: Date, timeZone: string, lastDay: PlainDate): Remaining {
  return remainingOn(plainDateAt(instant, timeZone), lastDay);
}

/**
 * The last good day for facts; `undefined` where `serviceDue` refuses, so that a rule is unanswerable instead of met.
 * YYYY-MM-DD. Never throws.
 *
 * @see `serviceDue`
 */
export function serviceLastDay(kind: ServiceKind, doneOn: PlainDate, damperUse?: DamperUse): PlainDate | undefined {
  try {
    return serviceDue({ kind, doneOn, damperUse }).lastDay;
  } catch (error) {
    // a refusal is the answer "not known" here; anything else is a fault of ours
    if (error instanceof NotComputable) return undefined;
    throw error;
  }
}
