import type { Judgement, Result, Verdict } from '../model/finding.ts';
import type { RuleSet } from '../model/rule-set.ts';
import { keepNearest, nearCaseOf, type Nearest, type NearestKeeper, nearnessOf } from './trial-nearest.ts';
import {
  compareJudgements,
  type Comparison,
  type RuleChange,
  type StoredFinding,
  type StoredJudgement,
} from './trial.ts';

/** How much of a trial is kept; numbers are always of all declarations. */
export interface TrialBounds {
  flips: number;
  /** rules named per flip */
  changesPerFlip: number;
  /** nearest cases on each side of the limit, over all rules */
  nearest: number;
  /** the same for each rule */
  nearestPerRule: number;
}

/** What a trial and a preview keep. */
export const TRIAL_BOUNDS: TrialBounds = { flips: 1000, changesPerFlip: 10, nearest: 50, nearestPerRule: 3 };

export interface TrialTotals {
  judged: number;
  flipped: number;
  /** these three are the flips, by the new verdict */
  newlyBarred: number;
  newlyToInspect: number;
  newlyClean: number;
  before: Record<Verdict, number>;
  after: Record<Verdict, number>;
}

/** What became of one rule, in cars; of a rule that runs per position the worst one counts for the car. */
export interface RuleTally<S> {
  ruleId: string;
  title: string;
  /** on watch under the rules tried: counted, judges nobody */
  watched?: true;
  /** not in the rules tried */
  gone?: true;
  /** under the rules tried */
  met: number;
  notMet: number;
  unanswerable: number;
  /** not so before, or not judged before */
  newlyNotMet: number;
  newlyUnanswerable: number;
  /** met, and was not before */
  newlyMet: number;
  /** judged before, and no longer */
  noLongerJudged: number;
  /** flips that the rule explains, alone or with others */
  flips: number;
  nearest: Nearest<S>;
}

export interface Flip<S> {
  subject: S;
  before: Verdict;
  after: Verdict;
  because: readonly RuleChange[];
  /** changes that explain the flip too and are not listed */
  moreChanges?: number;
}

export interface TrialSummary<S> {
  totals: TrialTotals;
  /** in the order of the rules tried, then rules that are gone */
  rules: readonly RuleTally<S>[];
  flips: readonly Flip<S>[];
  nearest: Nearest<S>;
  truncated: { flips: boolean; nearest: boolean };
}

/** Adds up a trial, declaration by declaration, so that it never needs them all in memory. */
export interface TrialTally<S> {
  add(subject: S, before: StoredJudgement, after: Judgement): Comparison;
  summary(): TrialSummary<S>;
}

type Counters<S> = Omit<RuleTally<S>, 'nearest' | 'gone'> & { tried: boolean; keeper: NearestKeeper<S> };

const WORST: Readonly<Record<Result, number>> = { met: 0, unanswerable: 1, 'not-met': 2 };

/** The worst result of each rule over its positions, with a finding of it. */
function worstByRule<F extends StoredFinding>(findings: readonly F[]): Map<string, F> {
  const worst = new Map<string, F>();
  for (const finding of findings) {
    const known = worst.get(finding.ruleId);
    if (known === undefined || WORST[finding.result] > WORST[known.result]) worst.set(finding.ruleId, finding);
  }
  return worst;
}

function count<S>(rule: Counters<S>, before: Result | undefined, after: Result | undefined): void {
  if (after === undefined) rule.noLongerJudged += 1;
  else if (after === 'met') {
    rule.met += 1;
    if (before !== undefined && before !== 'met') rule.newlyMet += 1;
  } else if (after === 'not-met') {
    rule.notMet += 1;
    if (before !== 'not-met') rule.newlyNotMet += 1;
  } else {
    rule.unanswerable += 1;
    if (before !== 'unanswerable') rule.newlyUnanswerable += 1;
  }
}

const noCars = (): Record<Verdict, number> => ({ barred: 0, 'to-inspect': 0, clean: 0 });

function emptyTotals(): TrialTotals {
  return {
    judged: 0,
    flipped: 0,
    newlyBarred: 0,
    newlyToInspect: 0,
    newlyClean: 0,
    before: noCars(),
    after: noCars(),
  };
}

const NEWLY = { barred: 'newlyBarred', 'to-inspect': 'newlyToInspect', clean: 'newlyClean' } as const;

function addVerdicts(totals: TrialTotals, { before, after, flipped }: Comparison): void {
  totals.judged += 1;
  totals.before[before] += 1;
  totals.after[after] += 1;
  if (!flipped) return;
  totals.flipped += 1;
  totals[NEWLY[after]] += 1;
}

function flipOf<S>(subject: S, comparison: Comparison, most: number): Flip<S> {
  const { before, after, because } = comparison;
  const more = because.length - most;
  return { subject, before, after, because: because.slice(0, most), ...(more > 0 ? { moreChanges: more } : {}) };
}

interface RuleCounters<S> {
  get(ruleId: string, title: string): Counters<S>;
  list(): RuleTally<S>[];
}

/** One set of counters per rule: those of the rules tried from the start, others when they first turn up. */
function openRules<S>(rules: readonly TriedRule[], nearestPerRule: number): RuleCounters<S> {
  const byId = new Map<string, Counters<S>>();
  const open = ({ ruleId, title, watched }: TriedRule, tried: boolean): Counters<S> => {
    const zero = { met: 0, notMet: 0, unanswerable: 0, newlyNotMet: 0, newlyUnanswerable: 0, newlyMet: 0 };
    const keeper = keepNearest<S>(nearestPerRule);
    const flag = watched === true ? { watched } : {};
    const counters = { ruleId, title, ...flag, ...zero, noLongerJudged: 0, flips: 0, tried, keeper };
    byId.set(ruleId, counters);
    return counters;
  };
  for (const rule of rules) open(rule, true);
  return {
    get: (ruleId, title) => byId.get(ruleId) ?? open({ ruleId, title }, false),
    list: () =>
      [...byId.values()].map(({ keeper, tried, ...rule }) => {
        return { ...rule, ...(tried ? {} : { gone: true as const }), nearest: keeper.get() };
      }),
  };
}

/** A rule of the rule set that is tried. */
interface TriedRule {
  ruleId: string;
  title: string;
  watched?: true | undefined;
}

/**
 * Opens a trial.
 *
 * @param tried the rules tried; one that judges no car is listed too
 */
export function openTrial<S>(tried: Pick<RuleSet, 'rules'>, bounds: TrialBounds = TRIAL_BOUNDS): TrialTally<S> {
  const totals = emptyTotals();
  const named = tried.rules.map(({ id, title, watch }) => ({ ruleId: id, title, watched: watch }));
  const rules = openRules<S>(named, bounds.nearestPerRule);
  const nearest = keepNearest<S>(bounds.nearest);
  const flips: Flip<S>[] = [];
  const addRules = (before: StoredJudgement, after: Judgement): void => {
    const was = worstByRule(before.findings);
    for (const [ruleId, finding] of worstByRule(after.findings)) {
      const rule = rules.get(ruleId, finding.title);
      // a run group's own rule is not among those of the rule set, and is tried all the same
      rule.tried = true;
      if (finding.watched) rule.watched = true;
      count(rule, was.get(ruleId)?.result, finding.result);
      was.delete(ruleId);
    }
    for (const [ruleId, finding] of was) count(rules.get(ruleId, finding.title), finding.result, undefined);
  };
  const addNearest = (subject: S, after: Judgement): void => {
    for (const finding of after.findings) {
      const nearness = nearnessOf(finding);
      if (nearness === undefined) continue;
      const keepers = [nearest, rules.get(finding.ruleId, finding.title).keeper];
      const wanting = keepers.filter((keeper) => keeper.wants(finding.result, nearness.relative));
      const near = wanting.length === 0 ? undefined : nearCaseOf(subject, finding, nearness);
      if (near !== undefined) for (const keeper of wanting) keeper.add(near);
    }
  };
  return {
    add(subject, before, after) {
      const comparison = compareJudgements(before, after);
      addVerdicts(totals, comparison);
      addRules(before, after);
      addNearest(subject, after);
      const explaining = new Map(comparison.because.map(({ ruleId, title }) => [ruleId, title]));
      for (const [ruleId, title] of explaining) rules.get(ruleId, title).flips += 1;
      if (comparison.flipped && flips.length < bounds.flips) {
        flips.push(flipOf(subject, comparison, bounds.changesPerFlip));
      }
      return comparison;
    },
    summary: () => ({
      totals,
      rules: rules.list(),
      flips,
      nearest: nearest.get(),
      truncated: { flips: totals.flipped > flips.length, nearest: nearest.truncated() },
    }),
  };
}

/** A whole trial at once; see `openTrial`. */
export function summarize<S>(
  tried: Pick<RuleSet, 'rules'>,
  cases: readonly { subject: S; before: StoredJudgement; after: Judgement }[],
  bounds: TrialBounds = TRIAL_BOUNDS,
): TrialSummary<S> {
  const tally = openTrial<S>(tried, bounds);
  for (const { subject, before, after } of cases) tally.add(subject, before, after);
  return tally.summary();
}
