import { findItem } from '../catalogue/catalogue.ts';
import { findFixFactFault } from './facts-fix.ts';
import { checkExpression } from './kinds/expression.ts';
import type { KindChecker } from './kinds/kind.ts';
import { kindOfTest } from './kinds/kinds.ts';
import { eachOf, findEachFault } from './rule-each.ts';
import type { RuleFault } from './rule-fault.ts';
import { noUses, type Uses } from './rule-scope.ts';
import type { Rule, RuleSet } from './rule-set.ts';

type Note = (path: string, code: RuleFault['code'], detail: string, at?: RuleFault['at']) => void;

function checkItems(rule: Rule, read: ReadonlySet<string>, note: Note): void {
  rule.items.forEach((key, index) => {
    if (findItem(key) === undefined)
      note(`/items/${index}`, 'unknown-item', `there is no item ${JSON.stringify(key)} in the catalogue`);
  });
  for (const key of read) {
    if (!rule.items.includes(key)) {
      note('/items', 'item-not-listed', `the test reads ${JSON.stringify(key)}, which the rule does not list`);
    }
  }
}

function join(into: Uses, from: Uses): void {
  for (const name of from.parameters) into.parameters.add(name);
  for (const name of from.steps) into.steps.add(name);
  for (const name of from.differences) into.differences.add(name);
  into.options.push(...from.options);
}

/**
 * Checks one rule against the catalogue and the rule set's parameters.
 *
 * @param uses is told what the rule uses
 * @returns every fault, with pointers below `pointer`
 */
export function checkRule(rule: Rule, ruleSet: RuleSet, pointer: string, uses: Uses): RuleFault[] {
  const faults: RuleFault[] = [];
  const note: Note = (path, code, detail, at) =>
    faults.push({ pointer: `${pointer}${path}`, code, detail, ...(at !== undefined && { at }) });
  const eachFault = findEachFault(rule);
  if (eachFault !== undefined) note('/each', 'each-mismatch', eachFault);
  const test = noUses();
  const checker: KindChecker = {
    ruleSet,
    rule,
    each: eachOf(rule),
    uses: test,
    fault: (path, code, detail, at) => note(`/test${path}`, code, detail, at),
  };
  // a wrong `each` would make names mean something else: told once, not once per name
  if (eachFault === undefined) kindOfTest(rule.test).check(rule.test, checker);
  checkItems(rule, test.items, note);
  const fixFault = findFixFactFault(rule);
  if (fixFault !== undefined) note('/fixFact', fixFault.code, fixFault.detail);
  join(uses, test);
  if (rule.when !== undefined && eachFault === undefined) {
    const condition = noUses();
    checkExpression(rule.when, { ...checker, uses: condition }, ({ code, detail, at }) =>
      note('/when', code, detail, at),
    );
    join(uses, condition);
  }
  return faults;
}
