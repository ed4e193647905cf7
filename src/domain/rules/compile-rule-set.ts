import type { PositionScheme } from '../catalogue/item.ts';
import type { Program } from './program.ts';
import { eachOf } from './rule-each.ts';
import { compileRuleExpression, type RuleExpression } from './rule-expression.ts';
import { noUses } from './rule-scope.ts';
import type { ParameterOverride, Rule, RuleSet } from './rule-set.ts';
import type { StepStore } from './step-store.ts';

/** A run group's parameters as the programs made for them saw them. */
export interface ParameterBinding {
  overrides: Readonly<Record<string, ParameterOverride>>;
  /** by event days and kind of car */
  programs: Map<string, Program>;
  /** what the programs share, by event days */
  stores: Map<string, StepStore>;
}

export interface CompiledRule {
  rule: Rule;
  each: PositionScheme | undefined;
}

/**
 * A rule set made ready to judge: expressions are compiled, and what does not depend on the answers is worked out
 * once per run group's parameters, event days and kind of car, and kept. Safe to share between requests.
 */
export interface CompiledRuleSet {
  readonly ruleSet: RuleSet;
  readonly rules: readonly CompiledRule[];
  /** by what the rule runs over and the text */
  readonly expressions: ReadonlyMap<string, RuleExpression>;
  readonly bindings: { byObject: WeakMap<object, ParameterBinding>; byContent: Map<string, ParameterBinding> };
}

/** The name an expression is kept under: the same text means another thing per wheel than per car. */
export const expressionKey = (source: string, each: PositionScheme | undefined): string => `${each ?? ''}|${source}`;

function compileExpressions(ruleSet: RuleSet, rules: readonly CompiledRule[]): Map<string, RuleExpression> {
  const expressions = new Map<string, RuleExpression>();
  for (const { rule, each } of rules) {
    for (const source of [rule.when, rule.test.kind === 'expression' ? rule.test.expr : undefined]) {
      const key = expressionKey(source ?? '', each);
      if (source === undefined || expressions.has(key)) continue;
      const compiled = compileRuleExpression(source, ruleSet, each, noUses());
      // one that does not compile is left out: its rule has no answer then, and bars if it can
      if (compiled.ok) expressions.set(key, compiled.expression);
    }
  }
  return expressions;
}

/**
 * Compiles a rule set that has passed `checkRuleSet`. Do it once per published version and keep the result.
 *
 * @throws never — a rule that cannot be compiled is `unanswerable` in every judgement
 */
export function compileRuleSet(ruleSet: RuleSet): CompiledRuleSet {
  const rules = ruleSet.rules.map((rule) => ({ rule, each: eachOf(rule) }));
  return {
    ruleSet,
    rules,
    expressions: compileExpressions(ruleSet, rules),
    bindings: { byObject: new WeakMap(), byContent: new Map() },
  };
}
