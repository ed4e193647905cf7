import type { Example, RuleSet } from '../src/domain/rules/model/rule-set.ts';
import { deriveCases } from './examples/derive-cases.ts';
import { toExample } from './examples/example-case.ts';
import { EXPRESSION_CASES } from './examples/expression-cases.ts';
import { wholeCarExamples } from './examples/whole-cars.ts';

/**
 * The examples of a rule set: of each rule those on both sides of its limits, then whole declarations. They are
 * written into the document once and kept there, so that a later change of a rule has to face them.
 */
export function makeExamples(ruleSet: RuleSet): Example[] {
  const perRule = ruleSet.rules.flatMap((rule) =>
    [...deriveCases(rule, ruleSet), ...(EXPRESSION_CASES[rule.id] ?? [])].map((given) => toExample(rule, given)),
  );
  // what JSON does not keep, such as a property that is undefined, must not differ from the committed file
  return JSON.parse(JSON.stringify([...perRule, ...wholeCarExamples()])) as Example[];
}
