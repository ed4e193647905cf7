import { checkCategories } from './check-categories.ts';
import { findUncovered } from './check-coverage.ts';
import { checkExample } from './check-example.ts';
import { checkNever } from './check-never.ts';
import { checkOverridesWith, checkParameters, noteMentioned } from './check-parameters.ts';
import { checkRule } from './check-rule.ts';
import { readShape, type Shaped } from './check-shape.ts';
import { type CompiledRuleSet, compileRuleSet } from './compile-rule-set.ts';
import { newBudget } from './never.ts';
import type { RuleFault, RuleWarning } from './rule-fault.ts';
import { noUses, type Uses } from './rule-scope.ts';
import type { ParameterOverride, Rule, RuleSet } from './rule-set.ts';

export type CheckedRuleSet =
  | { ok: true; ruleSet: RuleSet; compiled: CompiledRuleSet; warnings: RuleWarning[] }
  | { ok: false; faults: RuleFault[]; warnings: RuleWarning[] };

function findDuplicates(shaped: Shaped): RuleFault[] {
  const first = new Map<string, number>();
  return shaped.rules.flatMap(({ at, value }): RuleFault[] => {
    const before = first.get(value.id);
    if (before === undefined) {
      first.set(value.id, at);
      return [];
    }
    return [
      {
        pointer: `/rules/${at}/id`,
        code: 'duplicate-id',
        detail: `rule ${before} has the id ${JSON.stringify(value.id)} already`,
      },
    ];
  });
}

/**
 * Everything that is wrong with one rule in itself, as part of a rule set whose parameters it may use. Rules that
 * venues and run groups add are checked by it too.
 *
 * @param uses is told what the rule uses
 * @returns every fault, with pointers below `pointer`
 */
export function checkWholeRule(
  rule: Rule,
  ruleSet: RuleSet,
  pointer: string,
  uses: Uses,
  budget = newBudget(),
): RuleFault[] {
  const faults = checkRule(rule, ruleSet, pointer, uses);
  // what a rule with a fault means is not known, so that nothing else can be said of it
  return faults.length > 0 ? faults : checkNever(rule, ruleSet, pointer, budget);
}

function checkRules({ ruleSet, rules }: Shaped, uses: Uses): RuleFault[] {
  const budget = newBudget();
  return rules.flatMap(({ at, value }) => checkWholeRule(value, ruleSet, `/rules/${at}`, uses, budget));
}

function checkAll(raw: unknown, shaped: Shaped, uses: Uses): RuleFault[] {
  const { ruleSet } = shaped;
  const rules = checkRules(shaped, uses);
  // a rule with a fault may not have come as far as its parameters: what it mentions counts as used
  if (shaped.faults.length + rules.length > 0) noteMentioned(raw, uses.parameters);
  const whole = [...findDuplicates(shaped), ...checkParameters(ruleSet, uses), ...checkCategories(shaped)];
  return [...shaped.faults, ...whole, ...rules];
}

/**
 * Checks a rule set as it would be published: its shape, every name, type and unit in it against the catalogue, rules
 * that can never apply or never fail, and its examples, which are judged once everything else is in order.
 *
 * @param raw the document as parsed JSON, of any shape
 * @returns the rule set ready to judge, or every fault with its place (RFC 6901 pointer into the document); with
 *   either, warnings: what does not keep it from being published
 * @throws never
 */
export function checkRuleSet(raw: unknown): CheckedRuleSet {
  const uses = noUses();
  const shaped = readShape(raw);
  const warnings = findUncovered(shaped);
  const faults = checkAll(raw, shaped, uses);
  if (faults.length > 0) return { ok: false, faults, warnings };
  const compiled = compileRuleSet(shaped.ruleSet);
  const failed = shaped.examples.flatMap(({ at, value }) => checkExample(value, compiled, `/examples/${at}`, uses));
  if (failed.length > 0) return { ok: false, faults: failed, warnings };
  return { ok: true, ruleSet: shaped.ruleSet, compiled, warnings };
}

/**
 * Checks a run group's overrides against a rule set that is in order: unknown names, values of another kind, units
 * that do not convert, texts that are not among an item's options.
 *
 * @returns every fault; pointers are relative to the overrides, `/padMinimum/unit`
 */
export function checkOverrides(ruleSet: RuleSet, overrides: Readonly<Record<string, ParameterOverride>>): RuleFault[] {
  const uses = noUses();
  ruleSet.rules.forEach((rule, at) => checkRule(rule, ruleSet, `/rules/${at}`, uses));
  return checkOverridesWith(ruleSet, overrides, uses);
}
