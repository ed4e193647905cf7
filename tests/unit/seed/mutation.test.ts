import { describe, expect, it } from 'vitest';
import { BUILT_IN_RULE_SET } from '../../../seed/built-in.ts';
import { checkExample } from '../../../src/domain/rules/check/check.ts';
import { checkRule } from '../../../src/domain/rules/check/check-rule.ts';
import { compileRuleSet } from '../../../src/domain/rules/compile/compile-rule-set.ts';
import { findOwnParameter, OWN_PARAMETERS } from '../../../src/domain/rules/model/parameter-values.ts';
import { noUses } from '../../../src/domain/rules/model/rule-scope.ts';
import { type Rule, RuleSet } from '../../../src/domain/rules/model/rule-set.ts';
import { mutantsOf, nudgeLiterals, nudgeParameters } from './mutants.ts';

const ruleSet = RuleSet.parse(BUILT_IN_RULE_SET);

/** Whether some example of the rule does not come out as it says. */
function isNoticed(rule: Rule, of: RuleSet = ruleSet): boolean {
  const compiled = compileRuleSet({ ...of, rules: [rule] });
  const examples = of.examples.filter((example) => example.only?.includes(rule.id));
  return examples.some((example) => checkExample(example, compiled, '', noUses()).length > 0);
}

const isWellFormed = (rule: Rule): boolean => checkRule(rule, ruleSet, '', noUses()).length === 0;

describe('the examples of the built-in rule set', () => {
  it('come out with the rules as they are, and whatever their words', () => {
    const reworded = ruleSet.rules.map((rule) => ({ ...rule, title: 'other', message: 'other', fix: 'other' }));
    expect([...ruleSet.rules, ...reworded].filter((rule) => isNoticed(rule)).map(({ id }) => id)).toEqual([]);
  });

  it('notice every limit, comparison, option, condition and effect that is turned round', () => {
    const mutants = ruleSet.rules.flatMap((rule) => mutantsOf(rule)).filter(({ rule }) => isWellFormed(rule));
    expect(mutants.length).toBeGreaterThan(800);
    const unnoticed = mutants.filter(({ rule }) => !isNoticed(rule));
    expect(unnoticed.map(({ rule, what }) => `${rule.id}: ${what}`)).toEqual([]);
  });

  it('notice every number of a rule that is a step off', () => {
    const mutants = ruleSet.rules.flatMap(nudgeLiterals);
    expect(mutants.length).toBeGreaterThan(30);
    const unnoticed = mutants.filter(({ rule }) => !isNoticed(rule));
    expect(unnoticed.map(({ rule, what }) => `${rule.id}: ${what}`)).toEqual([]);
  });

  it('notice every numeric parameter that is a step off', () => {
    // what the server reads by itself is no rule's
    const mutants = nudgeParameters(ruleSet).filter(({ name }) => !Object.hasOwn(OWN_PARAMETERS, name));
    expect(mutants.length).toBeGreaterThan(90);
    const unnoticed = mutants.filter(({ name, ruleSet: moved }) => {
      // 39 asks for what 40 asks for: SAE J300 has no grade between them
      if (name === 'oilHotGradeMinimum' && moved.parameters[name]?.value === 39) return false;
      // read by the server itself, and by no rule
      if (findOwnParameter(name) !== undefined) return false;
      const users = moved.rules.filter((rule) => JSON.stringify(rule).includes(name));
      return !users.some((rule) => isNoticed(rule, moved));
    });
    expect(unnoticed.map(({ name }) => name)).toEqual([]);
  });
});
