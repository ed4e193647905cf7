import type { Rule, RuleSet } from '../../../src/domain/rules/model/rule-set.ts';
import type { Test } from '../../../src/domain/rules/model/test-schema.ts';

export interface Mutant {
  what: string;
  rule: Rule;
}

const OPPOSITE: Readonly<Record<string, string>> = {
  '<=': '>',
  '>=': '<',
  '==': '!=',
  '!=': '==',
  '<': '>=',
  '>': '<=',
  '&&': '||',
  '||': '&&',
};
/** the same, but for the limit itself */
const SHIFTED: Readonly<Record<string, string>> = { '<=': '<', '>=': '>', '<': '<=', '>': '>=' };
const OPERATOR = /<=|>=|==|!=|<|>|&&|\|\|/g;

/** One operator at a time turned round. */
export function mutateExpression(source: string): string[] {
  return [...source.matchAll(OPERATOR)].flatMap((match) => {
    const [operator] = match;
    const put = (other: string | undefined) =>
      other === undefined ? [] : [source.slice(0, match.index) + other + source.slice(match.index + operator.length)];
    return [...put(OPPOSITE[operator]), ...put(SHIFTED[operator])];
  });
}

const one = (amount: number) => ({ value: amount });

function mutateTest(test: Test): Test[] {
  switch (test.kind) {
    case 'limit': {
      const { atLeast, atMost, ...rest } = test;
      const limit = atLeast ?? atMost;
      const turned = atLeast === undefined ? { atLeast: limit } : { atMost: limit };
      return [
        { ...rest, ...turned },
        { ...test, strict: true },
      ];
    }
    case 'range':
      return [
        { ...test, from: test.to },
        { ...test, to: test.from },
      ];
    case 'one-of':
      return [{ ...test, kind: 'none-of' }, ...withoutOne(test)];
    case 'none-of':
      return [{ ...test, kind: 'one-of' }, ...withoutOne(test)];
    case 'confirm':
      return [{ ...test, expect: !(test.expect ?? true) }];
    case 'age':
      return [
        { ...test, atMost: { ...one(0), unit: 'day' } },
        { ...test, atMost: { ...one(1200), unit: 'month' } },
      ];
    case 'valid-through':
      return mutateValidity(test);
    case 'spread':
      return [
        { ...test, atMost: one(0) },
        { ...test, atMost: one(1000) },
      ];
    case 'photo':
      return [{ ...test, atLeast: test.atLeast + 1 }];
    case 'expression':
      return [`!(${test.expr})`, ...mutateExpression(test.expr)].map((expr) => ({ ...test, expr }));
  }
}

/** A step that no limit of the rule set may be off by unnoticed. */
function nudged(value: number, unit: string | undefined): number[] {
  const step = unit === 'in' ? 0.01 : Number.isInteger(value) ? 1 : 0.1;
  return [value - step, value + step].map((moved) => Number(moved.toFixed(4)));
}

/** A number that the rule itself states, a little more and a little less. */
export function nudgeLiterals(rule: Rule): Mutant[] {
  const source = JSON.stringify(rule.test);
  const literals = [...source.matchAll(/"value":(-?[\d.]+)(?:,"unit":"([^"]+)")?/g)];
  return literals.flatMap((match) =>
    nudged(Number(match[1]), match[2]).map((value) => {
      const moved = match[0].replace(/"value":-?[\d.]+/, `"value":${value}`);
      const test = JSON.parse(source.replace(match[0], moved)) as Test;
      return { what: moved, rule: { ...rule, test } };
    }),
  );
}

/** Each numeric parameter a little more and a little less. */
export function nudgeParameters(ruleSet: RuleSet): { name: string; ruleSet: RuleSet }[] {
  return Object.entries(ruleSet.parameters).flatMap(([name, parameter]) => {
    if (typeof parameter.value !== 'number') return [];
    return nudged(parameter.value, parameter.unit).map((value) => ({
      name,
      ruleSet: { ...ruleSet, parameters: { ...ruleSet.parameters, [name]: { ...parameter, value } } },
    }));
  });
}

function withoutOne(test: Test & { kind: 'one-of' | 'none-of' }): Test[] {
  const { values } = test;
  if (!Array.isArray(values) || values.length < 2) return [];
  return values.map((left) => ({ ...test, values: values.filter((value) => value !== left) }));
}

function mutateValidity(test: Test & { kind: 'valid-through' }): Test[] {
  const { endOfYear, addYears, ...rest } = test;
  const longer = { ...test, addYears: one(50) };
  if (endOfYear) return [longer, { ...rest, ...(addYears && { addYears }) }];
  return addYears === undefined
    ? [longer, { ...test, inclusive: !test.inclusive }]
    : [longer, { ...test, inclusive: !test.inclusive }, rest];
}

function mutateCondition(rule: Rule): Mutant[] {
  const { when, ...without } = rule;
  if (when === undefined) return [];
  const turned = [`!(${when})`, ...mutateExpression(when)];
  return [
    { what: 'condition left out', rule: without },
    ...turned.map((other) => ({ what: `when ${other}`, rule: { ...rule, when: other } })),
  ];
}

/** A rule changed in one way each: turned limits and comparisons, lost options, lost conditions, another effect. */
export function mutantsOf(rule: Rule): Mutant[] {
  const tests = mutateTest(rule.test)
    // on a limit that is guarded a reading is not met either way
    .filter((test) => !(rule.decision === 'guarded' && 'strict' in test && test.strict === true))
    .map((test) => ({ what: JSON.stringify(test), rule: { ...rule, test } }));
  const effects = (['bar', 'inspect', 'advise'] as const).filter((effect) => effect !== rule.effect);
  const effected = effects.map((effect) => ({ what: `effect ${effect}`, rule: { ...rule, effect } }));
  return [...tests, ...mutateCondition(rule), ...effected];
}
