import { parseAnswers } from '../../../../src/domain/declaration/declaration.ts';
import { checkRuleSet } from '../../../../src/domain/rules/check/check.ts';
import { compileRuleSet, evaluate } from '../../../../src/domain/rules/judge/evaluate.ts';
import type { Finding, Judgement } from '../../../../src/domain/rules/model/finding.ts';
import type { JudgeInput } from '../../../../src/domain/rules/judge/run.ts';
import { RuleSet } from '../../../../src/domain/rules/model/rule-set.ts';
import type { Answers } from '../../../../src/domain/declaration/declaration.ts';
import type { Vehicle } from '../../../../src/domain/vehicle.ts';

export const CAR: Vehicle = { description: 'Meridian K4 of 1994, invented', body: 'closed', powertrain: 'combustion' };
export const EVENT = { startsOn: '2026-11-28', endsOn: '2026-11-29' };

/** A rule as JSON; what a test does not care about is filled in. */
export function makeRule(overrides: Record<string, unknown>): Record<string, unknown> {
  return {
    id: 'rule-under-test',
    title: 'Rule under test',
    items: [],
    effect: 'bar',
    message: 'Not as it must be',
    fix: 'Put it right',
    basis: { kind: 'common-practice' },
    ...overrides,
  };
}

/** A rule set as JSON. */
export function makeRuleSet(overrides: Record<string, unknown>): Record<string, unknown> {
  return { name: 'Under test', parameters: {}, rules: [], examples: [], ...overrides };
}

/** Answers as an entrant sends them; a fault in them is a fault of the test. */
export function answersOf(raw: unknown): Answers {
  const parsed = parseAnswers(raw);
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return parsed.answers;
}

export function inputOf(overrides: Partial<JudgeInput>): JudgeInput {
  return {
    answers: new Map(),
    vehicle: CAR,
    event: EVENT,
    venue: {},
    parameters: {},
    concessions: [],
    stage: 'declaration',
    ...overrides,
  };
}

/** Judges raw answers under rules that pass the check. */
export function judge(
  rules: Record<string, unknown>[],
  raw: unknown,
  overrides: Partial<JudgeInput> & { declaredParameters?: Record<string, unknown> } = {},
): Judgement {
  const { declaredParameters, ...input } = overrides;
  const checked = checkRuleSet(makeRuleSet({ rules, parameters: declaredParameters ?? {} }));
  if (!checked.ok) throw new Error(JSON.stringify(checked.faults));
  return evaluate(checked.compiled, inputOf({ answers: answersOf(raw), ...input }));
}

/** The only finding of one rule. */
export function judgeOne(
  rule: Record<string, unknown>,
  raw: unknown,
  overrides: Partial<JudgeInput> & { declaredParameters?: Record<string, unknown> } = {},
): Finding {
  const { findings } = judge([makeRule(rule)], raw, overrides);
  const [finding] = findings;
  if (finding === undefined || findings.length !== 1) throw new Error(`${findings.length} findings`);
  return finding;
}

/** The faults of a rule set, `pointer code` each. */
export function faultsOf(raw: unknown): string[] {
  const checked = checkRuleSet(raw);
  return checked.ok ? [] : checked.faults.map((fault) => `${fault.pointer} ${fault.code}`);
}

/** Compiles without checking: what a fault that slipped through would do. */
export const compileUnchecked = (raw: unknown) => compileRuleSet(RuleSet.parse(raw));
