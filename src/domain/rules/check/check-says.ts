import { compileCel } from '../cel/generate.ts';
import { placeOf } from '../cel/ast.ts';
import { isSingle } from '../cel/types.ts';
import { eachOf } from '../model/rule-each.ts';
import type { RuleFault } from '../model/rule-fault.ts';
import { type RuleRef, ruleScope, type Uses } from '../model/rule-scope.ts';
import type { Rule, RuleSet, SaysExpression } from '../model/rule-set.ts';
import { KIND_VALUES } from '../says/kind-values.ts';
import { placesOf } from '../says/sentence.ts';

type Note = (path: string, code: RuleFault['code'], detail: string, at?: RuleFault['at']) => void;

const NAMED_BY_ALL = ['label', 'title'];

function checkValue(rule: Rule, ruleSet: RuleSet, path: string, value: SaysExpression, uses: Uses, note: Note): void {
  const source = typeof value === 'string' ? value : 'atLeast' in value ? value.atLeast : value.atMost;
  const at = typeof value === 'string' ? path : `${path}/${'atLeast' in value ? 'atLeast' : 'atMost'}`;
  const made = compileCel<RuleRef>(source, ruleScope(ruleSet, eachOf(rule), uses), 'any');
  if (!made.ok) {
    for (const { code, detail, offset } of made.faults) note(at, code, detail, placeOf(source, offset));
    return;
  }
  const { type } = made.expression.checked;
  if (!isSingle(type) || type.kind === 'bool')
    note(at, 'type-clash', 'a sentence shows one number, date, text or list, this is something else');
}

/** The sentences of a rule with their places in it. */
function sentencesOf({ says, texts = {} }: Rule): [path: string, text: string][] {
  const own: [string, string | undefined][] = [
    ['/says/text', says?.text],
    ['/says/without', says?.without],
  ];
  const others = Object.entries(texts).flatMap(([language, said]): [string, string | undefined][] => [
    [`/texts/${language}/says`, said.says],
    [`/texts/${language}/without`, said.without],
  ]);
  return [...own, ...others].filter((one): one is [string, string] => one[1] !== undefined);
}

/**
 * Checks the limit sentences of a rule: each name that stands in them has a value, and each value can be worked out.
 *
 * @param uses is told what the values use
 */
export function checkSays(rule: Rule, ruleSet: RuleSet, uses: Uses, note: Note): void {
  const values = rule.says?.values ?? {};
  for (const [name, value] of Object.entries(values)) {
    checkValue(rule, ruleSet, `/says/values/${name}`, value, uses, note);
  }
  const known = new Set([...NAMED_BY_ALL, ...KIND_VALUES[rule.test.kind], ...Object.keys(values)]);
  for (const [path, text] of sentencesOf(rule)) {
    for (const name of placesOf(text)) {
      if (known.has(name)) continue;
      note(path, 'unknown-name', `{${name}} has no value here; there are ${[...known].join(', ')}`);
    }
  }
}
