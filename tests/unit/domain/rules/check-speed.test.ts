import { expect, it } from 'vitest';
import { BUILT_IN_RULE_SET } from '../../../../seed/built-in.ts';
import { checkRuleSet } from '../../../../src/domain/rules/check/check.ts';
import { RuleSet } from '../../../../src/domain/rules/model/rule-set.ts';

const SIZE = 500;

/** The built-in rules again and again under other ids, each copy with its examples. */
function large(): RuleSet {
  const built = RuleSet.parse(BUILT_IN_RULE_SET);
  const alone = built.examples.filter(({ only }) => only?.length === 1);
  const copies = Array.from({ length: 3 }, (_, copy) => ({
    rules: built.rules.map((rule) => ({ ...rule, id: `${rule.id}-${copy}`, title: `${rule.title} ${copy}` })),
    examples: alone.map((one) => ({
      ...one,
      only: one.only?.map((id) => `${id}-${copy}`),
      findings: Object.fromEntries(
        Object.entries(one.findings ?? {}).map(([key, result]) => [key.replace(/^[^@]+/, `$&-${copy}`), result]),
      ),
    })),
  }));
  const rules = copies.flatMap((copy) => copy.rules).slice(0, SIZE);
  const ids = new Set(rules.map(({ id }) => id));
  const examples = copies.flatMap((copy) => copy.examples).filter(({ only }) => only?.every((id) => ids.has(id)));
  return { ...built, rules, examples: examples.slice(0, 1000) };
}

it('checks a rule set of 500 rules; how long it takes is printed', () => {
  const ruleSet = large();
  expect(ruleSet.rules.length).toBe(SIZE);
  checkRuleSet(ruleSet);
  const started = performance.now();
  const checked = checkRuleSet(ruleSet);
  const took = Math.round(performance.now() - started);
  expect(checked.ok ? [] : checked.faults).toEqual([]);
  process.stdout.write(`${SIZE} rules, ${ruleSet.examples.length} examples: checked in ${took} ms\n`);
});
