import { findItem } from '../../catalogue/catalogue.ts';
import type { CompiledRuleSet } from '../compile/compile-rule-set.ts';
import {
  bindRule,
  type BoundRule,
  expressionOf,
  readingText,
  readsOfCondition,
  readsOfTest,
  runOf,
  shortList,
  valueText,
} from './explain-binder.ts';
import { type Certainty, certaintyOf } from './explain-limits.ts';
import { type ExplainedParameter, explainParameters, expressionText, parameterNames } from './explain-expression.ts';
import { comparisonOf, countsText, type ExplainedComparison, testText, whyNotAsked } from './explain-finding.ts';
import { type ExplainedInput, type ExplainedReads, explainReads, type SentAnswers } from './explain-inputs.ts';
import type { Basis, Effect, Finding } from '../model/finding.ts';
import type { JudgeInput } from '../judge/run.ts';
import { bindPart } from '../kinds/expression.ts';
import type { Binder } from '../kinds/answer.ts';
import type { Origins, RuleOrigin } from '../overlay/overlay.ts';
import type { Test } from '../model/test-schema.ts';

/** What a driver is told of one finding. */
interface Judged {
  finding: Finding;
  kind: Test['kind'];
  /** what is asked for, in words, without a full stop */
  text: string;
  inputs: readonly ExplainedInput[];
  /** why the condition of the rule has no answer */
  conditionUnknown: boolean;
  stage: 'declaration' | 'line';
  /** what the inspector saw there and marked not ok */
  seenNotOk: boolean;
}

const WORDS: readonly (readonly [RegExp, string])[] = [
  [/^spread ≤ /u, 'a difference of at most '],
  [/^≥ /u, 'at least '],
  [/^≤ /u, 'at most '],
  [/^> /u, 'more than '],
  [/^< /u, 'less than '],
  [/^= /u, 'exactly '],
];

/** `≥ 4 mm` as `at least 4 mm`. */
function limitWords(limit: string): string {
  const known = WORDS.find(([sign]) => sign.test(limit));
  return known === undefined ? shortList(limit) : limit.replace(known[0], known[1]);
}

const sentence = (text: string): string => {
  const trimmed = text.trim();
  return `${trimmed.charAt(0).toUpperCase()}${trimmed.slice(1)}${/[.!?]$/u.test(trimmed) ? '' : '.'}`;
};

/** `you declared 4.8 mm (3/16 in as written)`: the conversion shows only where there was one. */
function givenWords({ finding, inputs }: Judged): string {
  const [only, more] = inputs;
  const reading = finding.measured === undefined ? '' : readingText(finding.measured);
  if (only === undefined || more !== undefined || only.value === undefined) return `it comes to ${reading}`;
  const who = only.by === 'inspector' ? 'the inspector measured' : 'you declared';
  const judged = valueText(only.value, only.unit);
  const written = only.sentText === judged ? '' : ` (${only.sentText} as written)`;
  if (reading.startsWith(judged)) return `${who} ${reading}${written}`;
  return `${who} ${judged}${written}, which comes to ${reading}`;
}

function whatWasJudged(one: Judged): string {
  const { finding, inputs, kind } = one;
  const at = finding.position === undefined ? '' : ` at ${finding.position}`;
  const [only] = inputs;
  const titled = `${finding.title}${at}`;
  if (one.conditionUnknown)
    return sentence(`${titled}: whether the rule applies could not be told. ${finding.message}`);
  if (finding.result === 'unanswerable') return sentence(`${titled}: ${finding.message}`);
  const head = inputs.length === 1 && only !== undefined ? `${only.label.replace(/\?$/u, '')}${at}` : titled;
  if (finding.measured === undefined || finding.limit === undefined) return sentence(`${head}: ${one.text}`);
  if (kind === 'photo')
    return sentence(`${head}: ${readingText(finding.measured)} sent, ${limitWords(finding.limit)} asked for`);
  return sentence(`${head}: ${givenWords(one)}; asked for is ${limitWords(finding.limit)}`);
}

function whatItMeans({ finding, seenNotOk }: Judged): string {
  if (finding.result === 'met') return 'That is as it must be.';
  const seen = seenNotOk ? 'The inspector looked and marked it not ok. ' : '';
  return finding.result === 'unanswerable' ? '' : seen + sentence(finding.message);
}

const MEANS = {
  bar: 'The car may not go on track like this. ',
  inspect: 'The line will look at it. ',
  advise: 'This is advice and keeps no car off the track. ',
  no: '',
} as const;

function whatToDo({ finding, stage }: Judged): string {
  if (finding.watched) return 'The rule is only on trial here: it judges nobody.';
  if (finding.result === 'met') return '';
  const conceded =
    finding.conceded === undefined ? '' : `A concession covers this until ${finding.conceded.expiresAt}. `;
  const means = finding.fix.startsWith(MEANS[finding.counts].trim()) ? '' : MEANS[finding.counts];
  if (finding.result !== 'unanswerable') return sentence(`${conceded}${means}${finding.fix}`);
  const forInspector = finding.effect === 'bar' && finding.counts === 'inspect' && finding.conceded === undefined;
  const again = stage === 'line' || forInspector ? '' : 'Give what is missing and submit the declaration again.';
  return sentence(`${conceded}${MEANS[finding.counts]}${again}`);
}

/** Two or three plain sentences for the driver: what was asked and given, what that means, what to do. */
function inWords(one: Judged): string {
  return [whatWasJudged(one), whatItMeans(one), whatToDo(one)].filter((part) => part !== '').join(' ');
}

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
  /** of a number whose reading has a known uncertainty */
  certainty?: Certainty;
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
  const certainty = certaintyOf(rule, binder, run, numberOf(finding));
  return {
    ...(finding.position !== undefined && { position: finding.position }),
    finding,
    ...(condition !== undefined && { condition }),
    ...explainReads(run, reads, what.sent),
    comparison: comparisonOf(finding, result, rule.test.kind, text),
    ...(certainty !== undefined && { certainty }),
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

const numberOf = ({ measured }: Finding): number | undefined =>
  typeof measured?.value === 'number' ? measured.value : undefined;

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
