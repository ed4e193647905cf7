import { checkExample } from './check-example.ts';
import { checkOverridesWith, checkParameters, noteMentioned } from './check-parameters.ts';
import { checkRule } from './check-rule.ts';
import { readShape, type Shaped } from './check-shape.ts';
import { type CompiledRuleSet, compileRuleSet } from './compile-rule-set.ts';
import type { RuleFault } from './rule-fault.ts';
import { noUses, type Uses } from './rule-scope.ts';
import type { ParameterOverride, RuleSet } from './rule-set.ts';

export type CheckedRuleSet =
  | { ok: true; ruleSet: RuleSet; compiled: CompiledRuleSet }
  | { ok: false; faults: RuleFault[] };

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

function checkAll(raw: unknown, shaped: Shaped, uses: Uses): RuleFault[] {
  const { ruleSet } = shaped;
  const rules = shaped.rules.flatMap(({ at, value }) => checkRule(value, ruleSet, `/rules/${at}`, uses));
  // a rule with a fault may not have come as far as its parameters: what it mentions counts as used
  if (shaped.faults.length + rules.length > 0) noteMentioned(raw, uses.parameters);
  return [...shaped.faults, ...findDuplicates(shaped), ...checkParameters(ruleSet, uses), ...rules];
}

/**
 * Checks a rule set as it would be published: its shape, every name, type and unit in it against the catalogue, and
 * its examples, which are judged once everything else is in order.
 *
 * @param raw the document as parsed JSON, of any shape
 * @returns the rule set ready to judge, or every fault with its place (RFC 6901 pointer into the document)
 * @throws never
 */
export function checkRuleSet(raw: unknown): CheckedRuleSet {
  const uses = noUses();
  const shaped = readShape(raw);
  const faults = checkAll(raw, shaped, uses);
  if (faults.length > 0) return { ok: false, faults };
  const compiled = compileRuleSet(shaped.ruleSet);
  const failed = shaped.examples.flatMap(({ at, value }) => checkExample(value, compiled, `/examples/${at}`, uses));
  return failed.length > 0 ? { ok: false, faults: failed } : { ok: true, ruleSet: shaped.ruleSet, compiled };
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
