import { findItem } from '../catalogue/catalogue.ts';
import type { CompiledRuleSet } from './compile-rule-set.ts';
import { type BoundRule, bindRule, expressionOf, readsOfCondition, readsOfTest, runOf } from './explain-binder.ts';
import { expressionText } from './explain-expression.ts';
import { comparisonOf, countsText, type ExplainedComparison } from './explain-finding.ts';
import { type ExplainedReads, explainReads, type SentAnswers } from './explain-inputs.ts';
import { type ExplainedParameter, explainParameters, parameterNames } from './explain-parameters.ts';
import { testText } from './explain-test.ts';
import { inWords } from './explain-words.ts';
import { whyNotAsked } from './explain-not-asked.ts';
import type { Basis, Effect, Finding } from './finding.ts';
import type { JudgeInput } from './judge-input.ts';
import type { Binder } from './kinds/kind.ts';
import { bindPart } from './kinds/expression.ts';
import type { Origins, RuleOrigin } from './overlay.ts';

/** Everything that an explanation is made of: the rules, what was judged, and what came out. */
export interface Explained {
  compiled: CompiledRuleSet;
  origins: Origins;
  input: JudgeInput;
  sent: SentAnswers;
  /** as they were stored */
  findings: readonly Finding[];
  /** what the rules say on the same input without what was only seen: the comparison is theirs */
  judged: readonly Finding[];
}

/** The condition of a rule at one position; `holds` null: it could not be told. */
export interface ExplainedCondition {
  expression: string;
  text: string;
  holds: boolean | null;
}

export interface ExplainedFinding extends ExplainedReads {
  position?: string;
  finding: Finding;
  condition?: ExplainedCondition;
  comparison: ExplainedComparison;
  countsBecause: string;
  inWords: string;
}

export interface ExplainedRule {
  ruleId: string;
  title: string;
  /** the rule in plain words, a sentence */
  text: string;
  /** of a rule that is an expression */
  expression?: string;
  condition?: { expression: string; text: string };
  items: { key: string; label: string }[];
  effect: Effect;
  watch: boolean;
  origin: RuleOrigin;
  basis: Basis;
  parameters: ExplainedParameter[];
  /** whether it gave a finding on this car */
  applies: boolean;
  /** why it gave none; empty when it did */
  reason: string;
  positions: ExplainedFinding[];
  /** positions of this car at which it gave none, and why */
  notAt: { position: string; reason: string }[];
}

function conditionAt(when: string, binder: Binder, input: JudgeInput): ExplainedCondition {
  const text = expressionText(when, binder);
  const expression = expressionOf(binder, when);
  const answer = expression === undefined ? undefined : bindPart(expression, binder)(runOf(input));
  return { expression: when, text, holds: typeof answer === 'boolean' ? answer : null };
}

function explainFinding(finding: Finding, bound: BoundRule, what: Explained): ExplainedFinding {
  const { input } = what;
  const { rule } = bound;
  const binder = bound.binder(finding.position);
  const condition = rule.when === undefined ? undefined : conditionAt(rule.when, binder, input);
  const judged = what.judged.find((one) => one.ruleId === rule.id && one.position === finding.position);
  const tested = readsOfTest(rule, binder);
  const reads = [...tested, ...(rule.when === undefined ? [] : readsOfCondition(rule.when, binder))];
  const text = testText(rule.test, binder);
  const result = judged?.result ?? finding.result;
  const conditionUnknown = condition?.holds === null;
  const run = runOf(input);
  return {
    ...(finding.position !== undefined && { position: finding.position }),
    finding,
    ...(condition !== undefined && { condition }),
    ...explainReads(run, reads, what.sent),
    comparison: comparisonOf(finding, result, rule.test.kind, text),
    countsBecause: countsText(finding, input.stage),
    inWords: inWords({
      finding,
      kind: rule.test.kind,
      text,
      inputs: explainReads(run, tested, what.sent).inputs,
      conditionUnknown,
      stage: input.stage,
      seenNotOk: finding.result === 'not-met' && result !== 'not-met',
    }),
  };
}

/** Why the rule gave no finding at a position of this car. */
function whyNot(bound: BoundRule, position: string | undefined, input: JudgeInput): string {
  const { when } = bound.rule;
  const condition = when === undefined ? undefined : conditionAt(when, bound.binder(position), input);
  if (condition?.holds !== false) return 'No finding was kept here when it was judged.';
  return `It applies only where ${condition.text}, and that is not so here.`;
}

function describe(
  bound: BoundRule,
  what: Explained,
): Omit<ExplainedRule, 'applies' | 'reason' | 'positions' | 'notAt'> {
  const { rule } = bound;
  const binder = bound.binder(bound.positions[0]);
  const { when, test } = rule;
  return {
    ruleId: rule.id,
    title: rule.title,
    text: `${testText(test, binder)}.`,
    ...(test.kind === 'expression' && { expression: test.expr }),
    ...(when !== undefined && { condition: { expression: when, text: expressionText(when, binder) } }),
    items: rule.items.map((key) => ({ key, label: findItem(key)?.label ?? key })),
    effect: rule.effect,
    watch: rule.watch === true,
    origin: what.origins.rules[rule.id] ?? { from: 'rule-set' },
    basis: rule.basis,
    parameters: explainParameters(parameterNames(rule, binder), binder, what.input, what.origins),
  };
}

/**
 * Tells how a rule came to its findings on one car, position by position, in words and in numbers. Values are those
 * of the judgement: as sent, and in the items' own units as judged. Nothing is judged anew but the condition.
 *
 * @returns `undefined` when these rules have none of that name; `applies: false` with the reason when it gave no finding
 * @throws never on rules that passed their check
 */
export function explainRule(ruleId: string, what: Explained): ExplainedRule | undefined {
  const compiled = what.compiled.rules.find((one) => one.rule.id === ruleId);
  if (compiled === undefined) return undefined;
  const bound = bindRule(what.compiled, compiled, what.input);
  const findings = what.findings.filter((finding) => finding.ruleId === ruleId);
  const silent = bound.positions.filter((position) => findings.every((finding) => finding.position !== position));
  const [first] = bound.positions;
  const asked = bound.positions.length > 0;
  return {
    ...describe(bound, what),
    applies: findings.length > 0,
    reason:
      findings.length > 0 ? '' : asked ? whyNot(bound, first, what.input) : whyNotAsked(bound.rule, what.input.vehicle),
    positions: findings.map((finding) => explainFinding(finding, bound, what)),
    notAt: silent.flatMap((position) =>
      position === undefined ? [] : [{ position, reason: whyNot(bound, position, what.input) }],
    ),
  };
}
