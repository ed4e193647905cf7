import { roundTo } from '../../quantity.ts';
import type { ParameterValue } from '../model/rule-set.ts';

/**
 * What makes a rule easier to meet, or lets it apply to fewer cars: a lower or higher number, a text added to or taken
 * out of a list. `unclear`: it cannot be told, so every change may.
 */
export type Looser = 'lower' | 'higher' | 'added' | 'removed' | 'unclear';

/** One place of a rule that decides how strict it is, with the value it has in a rule set. */
export interface Bound {
  /** in the rule: `/test/atLeast`, `/when`; unique within a rule for one parameter */
  place: string;
  /** the parameter that gives the value; absent: the rule states it */
  parameter?: string;
  looser: Looser;
  /** comparable with that of another rule set where `unit` is the same; `undefined`: there is no usable value */
  value: ParameterValue | undefined;
  unit: string;
  /** numbers are judged rounded to these */
  decimals: number;
}

/** How the value of a place differs: `same`, `tighter` and `looser` are certain. */
export type Difference = 'same' | 'tighter' | 'looser' | 'unclear';

/** Smaller differences than this, relative to the numbers, are noise of converting units. */
const NOISE = 1e-9;

/** Lower as judged, or by more than the noise of converting although rounding hides it. */
function isLower(a: number, b: number, decimals: number): boolean {
  return roundTo(a, decimals) < roundTo(b, decimals) || b - a > NOISE * Math.max(1, Math.abs(a), Math.abs(b));
}

function compareLists(was: readonly string[], now: readonly string[], looser: Looser): Difference {
  const added = now.some((one) => !was.includes(one));
  const removed = was.some((one) => !now.includes(one));
  if (!added && !removed) return 'same';
  if (looser === 'added') return added ? 'looser' : 'tighter';
  if (looser === 'removed') return removed ? 'looser' : 'tighter';
  return 'unclear';
}

function compareNumbers(was: number, now: number, { looser, decimals }: Bound): Difference {
  const lower = isLower(now, was, decimals);
  if (!lower && !isLower(was, now, decimals)) return 'same';
  if (looser !== 'lower' && looser !== 'higher') return 'unclear';
  return lower === (looser === 'lower') ? 'looser' : 'tighter';
}

/**
 * Compares one place of a rule before and after a change.
 *
 * @returns `unclear` also where one of the two has no usable value, or another unit or meaning
 */
export function compareBounds(before: Bound, after: Bound): Difference {
  const [was, now] = [before.value, after.value];
  if (was === undefined || now === undefined) return 'unclear';
  if (before.looser !== after.looser || before.unit !== after.unit) return 'unclear';
  if (typeof was === 'number' && typeof now === 'number') return compareNumbers(was, now, after);
  if (Array.isArray(was) && Array.isArray(now)) return compareLists(was, now, after.looser);
  return was === now ? 'same' : 'unclear';
}
