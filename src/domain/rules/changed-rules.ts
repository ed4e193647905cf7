import { EFFECTS } from './finding.ts';
import { boundsOf } from './loosening-bounds.ts';
import { type Bound, compareBounds } from './loosening-compare.ts';
import { eachOf } from './rule-each.ts';
import type { Rule, RuleSet } from './rule-set.ts';

/** Parts of tests that are compared by strictness; all other parts must be equal. */
const COMPARED: ReadonlySet<string> = new Set([
  'atLeast',
  'atMost',
  'from',
  'to',
  'values',
  'strict',
  'inclusive',
  'endOfYear',
  'addMonths',
  'addYears',
]);

/** What of a rule decides whom it judges and how, without what is compared by strictness. */
function frameOf(rule: Rule): string {
  const test = Object.entries(rule.test)
    .filter(([key, value]) => {
      const isStated = typeof value === 'object' && value !== null && 'vehicle' in value;
      return value !== undefined && (!COMPARED.has(key) || isStated);
    })
    .filter(([key]) => rule.test.kind !== 'photo' || key !== 'atLeast')
    .toSorted(([a], [b]) => (a < b ? -1 : 1));
  return JSON.stringify([rule.items.toSorted(), rule.when ?? null, eachOf(rule) ?? null, test]);
}

const keyOf = ({ place, parameter }: Bound): string =>
  place === '/when' || place === '/test/expr' ? `${place} ${parameter}` : place;

function limitsMayBeTighter(was: Rule, before: RuleSet, now: Rule, after: RuleSet): boolean {
  const earlier = new Map(boundsOf(was, before).map((bound) => [keyOf(bound), bound]));
  return boundsOf(now, after).some((bound) => {
    const one = earlier.get(keyOf(bound));
    const difference = one === undefined ? 'unclear' : compareBounds(one, bound);
    return difference === 'tighter' || difference === 'unclear';
  });
}

function mayJudgeMoreStrictly(was: Rule | undefined, before: RuleSet, now: Rule, after: RuleSet): boolean {
  if (was === undefined || was.watch === true) return true;
  if (EFFECTS.indexOf(now.effect) < EFFECTS.indexOf(was.effect)) return true;
  return frameOf(was) !== frameOf(now) || limitsMayBeTighter(was, before, now, after);
}

/**
 * The rules that may judge a car more strictly than before: new ones, and those of which not all that changed is
 * certain to be looser or the same (limits, lists, condition, effect, watch). Titles, messages, basis and what decides
 * about exceptions do not judge. A rule on watch judges nobody, so it is never among them.
 *
 * @param before the rules that judged so far, parameters as they applied
 * @param after the rules that judge from now on
 * @returns ids of rules of `after`
 */
export function tightenedOrAdded(before: RuleSet, after: RuleSet): Set<string> {
  const known = new Map(before.rules.map((rule) => [rule.id, rule]));
  const judging = after.rules.filter((rule) => rule.watch !== true);
  return new Set(
    judging.filter((rule) => mayJudgeMoreStrictly(known.get(rule.id), before, rule, after)).map(({ id }) => id),
  );
}
