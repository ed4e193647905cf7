import type { Finding } from './finding.ts';

/** Dates have no size of their own: a distance in days is set against a year. */
const DAYS_PER_YEAR = 365;

/** How far a finding is from its limit, as a share of the limit: 0 is on it, whichever the side. */
export interface Nearness {
  margin: { value: number; unit: string };
  relative: number;
}

/** The limit that a measured number was held against; of a range the nearer end. */
function limitOf(value: number, margin: number, limit: string): number | undefined {
  const [below, above] = [value - margin, value + margin];
  if (/[≥>]/u.test(limit)) return below;
  if (/[≤<]/u.test(limit)) return above;
  const [from, to] = limit.split(' to ').map(Number.parseFloat);
  if (from === undefined || to === undefined || Number.isNaN(from + to)) return undefined;
  return Math.abs(below - from) < Math.abs(above - to) ? below : above;
}

/**
 * How near a finding is to its limit: `|margin| / |limit|`, so that millimetres and degrees can stand in one list.
 * Days of a date are set against a year. Against a limit of 0 only a value on it is near.
 *
 * @returns `undefined` for a finding without a margin or without a number or date to set it against
 */
export function nearnessOf(finding: Finding): Nearness | undefined {
  const { margin, measured, limit } = finding;
  if (margin === undefined || measured === undefined || limit === undefined) return undefined;
  const distance = Math.abs(margin.value);
  if (typeof measured.value === 'string' && margin.unit === 'day') {
    return { margin, relative: distance / DAYS_PER_YEAR };
  }
  if (typeof measured.value !== 'number') return undefined;
  const bound = limitOf(measured.value, margin.value, limit);
  if (bound === undefined) return undefined;
  if (distance === 0) return { margin, relative: 0 };
  return { margin, relative: bound === 0 ? 1 : distance / Math.abs(bound) };
}
