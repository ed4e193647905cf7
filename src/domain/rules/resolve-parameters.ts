import { convert, dimensionOf, parseUnit, type Unit } from '../quantity.ts';
import { unitOfParameter } from './parameter-values.ts';
import { eachOf } from './rule-each.ts';
import { compileRuleExpression } from './rule-expression.ts';
import { noUses } from './rule-scope.ts';
import type { Parameter, ParameterOverride, Rule, RuleSet } from './rule-set.ts';

export type Overrides = ReadonlyMap<string, ParameterOverride>;

/** Whether an override is in another unit than the rule set has the parameter in. */
function isInOtherUnit(own: Unit | undefined, override: ParameterOverride): boolean {
  return override.unit !== undefined && parseUnit(override.unit) !== own;
}

/** The parameters that expressions of these rules read, tests and conditions. */
function readByExpressions(ruleSet: RuleSet, rules: readonly Rule[]): ReadonlySet<string> {
  const uses = noUses();
  for (const rule of rules) {
    const sources = [rule.when, rule.test.kind === 'expression' ? rule.test.expr : undefined];
    for (const source of sources) {
      if (source !== undefined) compileRuleExpression(source, ruleSet, eachOf(rule), uses);
    }
  }
  return uses.parameters;
}

function inOwnUnit(declared: Parameter, override: ParameterOverride): number | undefined {
  const from = unitOfParameter(override);
  const own = unitOfParameter(declared);
  if (from === undefined || own === undefined || typeof override.value !== 'number') return undefined;
  return convert(override.value, from, own);
}

/** The value and unit of an override in a parameter; what it means and where it was from stays. */
function bakeIn(declared: Parameter, override: ParameterOverride, isRead: () => boolean): Parameter {
  const { value, unit } = override;
  if (isInOtherUnit(unitOfParameter(declared), override) && isRead()) {
    const converted = inOwnUnit(declared, override);
    // what does not convert stays as it is written: the check has refused it, and the evaluator has no answer on it
    if (converted !== undefined) return { ...declared, value: converted };
  }
  return unit === undefined ? { ...declared, value } : { ...declared, value, unit };
}

/**
 * The rule set with overrides as its parameters' values, and these rules. A value stays in the unit it is written in,
 * except where an expression reads it: the unit of a parameter is part of what an expression means, so there it is
 * converted to the rule set's own. Examples are about the rule set as it was and are left out.
 */
export function bakeOverrides(base: RuleSet, overrides: Overrides, rules: readonly Rule[]): RuleSet {
  let read: ReadonlySet<string> | undefined;
  const isRead = (name: string): boolean => {
    read ??= readByExpressions(base, rules);
    return read.has(name);
  };
  const parameters = Object.entries(base.parameters).map(([name, declared]): [string, Parameter] => {
    const override = overrides.get(name);
    return [name, override === undefined ? declared : bakeIn(declared, override, () => isRead(name))];
  });
  return { ...base, parameters: Object.fromEntries(parameters), rules: [...rules], examples: [] };
}

/**
 * Whether an override cannot be given in this unit: a temperature that an expression reads as a point of the scale
 * and a spread as a difference is two numbers in any unit but its own (9 °F is a spread of 5 °C, and -12.8 °C).
 */
export function isAmbiguous(base: RuleSet, name: string, override: ParameterOverride, rules: readonly Rule[]): boolean {
  const declared = base.parameters[name];
  const own = declared && unitOfParameter(declared);
  if (own === undefined || dimensionOf(own) !== 'temperature' || !isInOtherUnit(own, override)) return false;
  const isSpread = rules.some(
    ({ test }) => test.kind === 'spread' && 'parameter' in test.atMost && test.atMost.parameter === name,
  );
  return isSpread && readByExpressions(base, rules).has(name);
}
