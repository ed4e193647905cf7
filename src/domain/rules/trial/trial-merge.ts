import type { Nearest } from './trial-nearest.ts';
import {
  TRIAL_BOUNDS,
  type RuleTally,
  type TrialBounds,
  type TrialSummary,
  type TrialTotals,
} from './trial-summary.ts';

/**
 * Puts the summaries of two parts of a trial together, as if all had been added up at once: what came first stays first.
 *
 * @param one the part with the earlier declarations; opened with all rules tried
 * @param other may leave out rules that judged nobody
 */
export function mergeTrials<S>(
  one: TrialSummary<S>,
  other: TrialSummary<S>,
  bounds: TrialBounds = TRIAL_BOUNDS,
): TrialSummary<S> {
  const totals = addTotals(one.totals, other.totals);
  const flips = [...one.flips, ...other.flips].slice(0, bounds.flips);
  const isCut = one.truncated.nearest || other.truncated.nearest || isOver(one.nearest, other.nearest, bounds.nearest);
  return {
    totals,
    rules: mergeRules(one.rules, other.rules, bounds.nearestPerRule),
    flips,
    nearest: mergeNearest(one.nearest, other.nearest, bounds.nearest),
    truncated: { flips: totals.flipped > flips.length, nearest: isCut },
  };
}

function addTotals(one: TrialTotals, other: TrialTotals): TrialTotals {
  return {
    judged: one.judged + other.judged,
    flipped: one.flipped + other.flipped,
    newlyBarred: one.newlyBarred + other.newlyBarred,
    newlyToInspect: one.newlyToInspect + other.newlyToInspect,
    newlyClean: one.newlyClean + other.newlyClean,
    before: addVerdicts(one.before, other.before),
    after: addVerdicts(one.after, other.after),
  };
}

const addVerdicts = (one: TrialTotals['before'], other: TrialTotals['before']): TrialTotals['before'] => ({
  barred: one.barred + other.barred,
  'to-inspect': one['to-inspect'] + other['to-inspect'],
  clean: one.clean + other.clean,
});

function mergeRules<S>(one: readonly RuleTally<S>[], other: readonly RuleTally<S>[], nearest: number): RuleTally<S>[] {
  const merged = new Map(one.map((rule) => [rule.ruleId, rule]));
  for (const rule of other) {
    const known = merged.get(rule.ruleId);
    merged.set(rule.ruleId, known === undefined ? rule : mergeRule(known, rule, nearest));
  }
  return [...merged.values()];
}

function mergeRule<S>(one: RuleTally<S>, other: RuleTally<S>, nearest: number): RuleTally<S> {
  const { ruleId, title } = one;
  return {
    ruleId,
    title,
    ...(one.watched || other.watched ? { watched: true as const } : {}),
    met: one.met + other.met,
    notMet: one.notMet + other.notMet,
    unanswerable: one.unanswerable + other.unanswerable,
    newlyNotMet: one.newlyNotMet + other.newlyNotMet,
    newlyUnanswerable: one.newlyUnanswerable + other.newlyUnanswerable,
    newlyMet: one.newlyMet + other.newlyMet,
    noLongerJudged: one.noLongerJudged + other.noLongerJudged,
    flips: one.flips + other.flips,
    ...(one.gone && other.gone ? { gone: true as const } : {}),
    nearest: mergeNearest(one.nearest, other.nearest, nearest),
  };
}

const isOver = (one: Nearest<unknown>, other: Nearest<unknown>, size: number): boolean =>
  one.met.length + other.met.length > size || one.notMet.length + other.notMet.length > size;

function mergeNearest<S>(one: Nearest<S>, other: Nearest<S>, size: number): Nearest<S> {
  // Sorting is stable: of equally near ones those of the first part stay first.
  const nearest = (side: 'met' | 'notMet') =>
    [...one[side], ...other[side]].toSorted((a, b) => a.relative - b.relative).slice(0, size);
  return { met: nearest('met'), notMet: nearest('notMet') };
}
