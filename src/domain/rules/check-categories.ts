import { jsonPointer } from '../json-pointer.ts';
import type { Shaped } from './check-shape.ts';
import type { RuleFault } from './rule-fault.ts';

/** Categories of exceptions that rules name and the rule set does not have, and those it has and no rule names. */
export function checkCategories({ ruleSet, rules }: Shaped): RuleFault[] {
  const categories = ruleSet.concessionCategories ?? {};
  const unknown = rules.flatMap(({ at, value: { concession } }): RuleFault[] => {
    if (concession === undefined || Object.hasOwn(categories, concession)) return [];
    const detail = `the rule set has no concession category ${JSON.stringify(concession)}`;
    return [{ pointer: `/rules/${at}/concession`, code: 'unknown-category', detail }];
  });
  const used = new Set(rules.map(({ value }) => value.concession));
  const unused = Object.keys(categories)
    .filter((name) => !used.has(name))
    .map((name): RuleFault => {
      const pointer = jsonPointer(['concessionCategories', name]);
      const detail = `no rule is in the concession category ${JSON.stringify(name)}`;
      return { pointer, code: 'unused-category', detail };
    });
  return [...unknown, ...unused];
}
