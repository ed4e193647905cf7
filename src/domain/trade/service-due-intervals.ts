import type { Standing } from './calculation.ts';

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
export type ServiceKind = (typeof SERVICE_KINDS)[number];

export const DAMPER_USES = ['club', 'professional'] as const;
export type DamperUse = (typeof DAMPER_USES)[number];

/** One interval, in months from the last service. */
export interface Interval {
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
export const DISPOSABLE_EXTINGUISHER_YEARS = 12;

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
export function intervalsOf(kind: ServiceKind, use: DamperUse = 'professional'): readonly Interval[] {
  if (kind === 'damper') return DAMPER[use];
  return kind === 'extinguisher' ? [EXTINGUISHER] : [FLUIDS[kind]];
}
