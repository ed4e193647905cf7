import { type Budget, findNever } from './never.ts';
import type { RuleFault } from './rule-fault.ts';
import type { Rule, RuleSet } from './rule-set.ts';

function whyNever(rule: Rule): string {
  if (rule.test.kind === 'expression') return 'this is true whatever is answered, or has no answer';
  return `every answer that ${JSON.stringify(rule.test.item)} allows meets this`;
}

/** Notes a rule that is in order and yet idle: no car makes it apply, or no answer makes it fail. */
export function checkNever(rule: Rule, ruleSet: RuleSet, pointer: string, budget: Budget): RuleFault[] {
  const never = findNever(rule, ruleSet, budget);
  if (never === undefined) return [];
  if (never === 'never-fails') {
    return [{ pointer: `${pointer}/test`, code: never, detail: `the rule can never fail: ${whyNever(rule)}` }];
  }
  const detail = 'the rule can never apply: this is true for no car that is asked its items';
  return [{ pointer: `${pointer}/when`, code: never, detail }];
}
