import type { Finding, Result } from '../model/finding.ts';

/** Dates have no size of their own: a distance in days is set against a year. */
const DAYS_PER_YEAR = 365;

/** How far a finding is from its limit, as a share of the limit: 0 is on it, whichever the side. */
interface Nearness {
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

/** A judged value near its limit; `subject` names the declaration. */
export interface NearCase<S> {
  subject: S;
  ruleId: string;
  title: string;
  position?: string;
  result: Result;
  measured: number | string;
  limit: string;
  margin: { value: number; unit: string };
  /** `|margin|` as a share of the limit */
  relative: number;
}

/** The nearest cases on either side of their limit, nearest first. */
export interface Nearest<S> {
  met: readonly NearCase<S>[];
  notMet: readonly NearCase<S>[];
}

/** Keeps the `size` nearest cases of each side; of equally near ones those that came first. */
export interface NearestKeeper<S> {
  /** whether a case so near would be kept; where not, that there was one more is noted */
  wants(result: Result, relative: number): boolean;
  add(near: NearCase<S>): void;
  /** whether there were more than are kept */
  truncated(): boolean;
  get(): Nearest<S>;
}

/** The near case of a finding under the rules tried. */
export function nearCaseOf<S>(subject: S, finding: Finding, nearness: Nearness): NearCase<S> | undefined {
  const { ruleId, title, position, result, measured, limit } = finding;
  if (limit === undefined || measured === undefined || typeof measured.value === 'boolean') return undefined;
  const at = position === undefined ? {} : { position };
  return { subject, ruleId, title, ...at, result, measured: measured.value, limit, ...nearness };
}

/** Puts a case in its place. */
function insert<S>(kept: NearCase<S>[], near: NearCase<S>): void {
  let at = kept.length;
  while (at > 0 && (kept[at - 1]?.relative ?? 0) > near.relative) at -= 1;
  kept.splice(at, 0, near);
}

/** @param size cases kept on each side */
export function keepNearest<S>(size: number): NearestKeeper<S> {
  const met: NearCase<S>[] = [];
  const notMet: NearCase<S>[] = [];
  const sideOf = (result: Result) => (result === 'met' ? met : notMet);
  let hadMore = false;
  return {
    wants(result, relative) {
      const kept = sideOf(result);
      const last = kept.length < size ? undefined : kept.at(-1);
      if (last === undefined) return true;
      hadMore = true;
      return relative < last.relative;
    },
    add(near) {
      const kept = sideOf(near.result);
      insert(kept, near);
      if (kept.length > size) kept.pop();
    },
    truncated: () => hadMore,
    get: () => ({ met, notMet }),
  };
}
