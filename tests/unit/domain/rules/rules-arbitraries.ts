import fc from 'fast-check';
import { CATALOGUE } from '../../../../src/domain/catalogue/catalogue.ts';
import type { Item, SimpleAnswerType } from '../../../../src/domain/catalogue/item.ts';
import { findNever, newBudget } from '../../../../src/domain/rules/check/never.ts';
import { RuleSet } from '../../../../src/domain/rules/model/rule-set.ts';
import { arbDecimal } from '../../../support/arbitraries.ts';
import { makeRule, makeRuleSet } from './rules-support.ts';

type Json = Record<string, unknown>;
interface Asked {
  item: Item;
  field: string | undefined;
  type: SimpleAnswerType;
}

const ASKED: readonly Asked[] = CATALOGUE.flatMap((item): Asked[] =>
  item.answer.kind === 'fields'
    ? Object.entries(item.answer.fields).map(([field, { type }]) => ({ item, field, type }))
    : [{ item, field: undefined, type: item.answer }],
);
const NUMBERS = ASKED.filter(({ type }) => type.kind === 'number');
const POSITIONED = NUMBERS.filter(({ item, field }) => item.positions !== undefined && field === undefined);

const target = ({ item, field }: Asked): Json => ({ item: item.key, ...(field !== undefined && { field }) });

type NumberType = Extract<SimpleAnswerType, { kind: 'number' }>;
const limit = (type: NumberType): fc.Arbitrary<Json> =>
  arbDecimal(type.min, type.max, type.decimals).map((value) => ({ value, unit: type.unit }));

function arbTest(asked: Asked): fc.Arbitrary<Json> {
  const { type } = asked;
  const on = target(asked);
  switch (type.kind) {
    case 'number':
      return fc.oneof(
        limit(type).map((atLeast) => ({ kind: 'limit', ...on, atLeast })),
        limit(type).map((atMost) => ({ kind: 'limit', ...on, atMost, strict: true })),
        fc.tuple(limit(type), limit(type)).map(([from, to]) => ({ kind: 'range', ...on, from, to })),
      );
    case 'choice':
    case 'choices':
      return fc
        .tuple(fc.constantFrom('one-of', 'none-of'), fc.subarray([...type.options], { minLength: 1 }))
        .map(([kind, values]) => ({ kind, ...on, values }));
    case 'confirm':
      return fc.constant({ kind: 'confirm', ...on });
    case 'yes-no':
      return fc.boolean().map((expect) => ({ kind: 'confirm', ...on, expect }));
    case 'date':
      return fc.oneof(
        fc.integer({ min: 0, max: 120 }).map((value) => ({ kind: 'age', ...on, atMost: { value, unit: 'month' } })),
        fc.integer({ min: 0, max: 20 }).map((value) => ({
          kind: 'valid-through',
          ...on,
          inclusive: true,
          through: 'event-end',
          addYears: { value },
          endOfYear: true,
        })),
      );
    case 'text':
      return fc.constant({ kind: 'one-of', ...on, values: ['15W-50', 'as it is'] });
  }
}

const arbTyped: fc.Arbitrary<Json> = fc
  .constantFrom(...ASKED)
  .chain((asked) => arbTest(asked).map((test) => ({ items: [asked.item.key], test })));

const arbSpread: fc.Arbitrary<Json> = fc.constantFrom(...POSITIONED).chain(({ item, type }) =>
  limit(type as NumberType).map((atMost) => ({
    items: [item.key],
    test: { kind: 'spread', item: item.key, atMost },
  })),
);
const arbPhoto: fc.Arbitrary<Json> = fc
  .constantFrom(...CATALOGUE)
  .map((item) => ({ items: [item.key], test: { kind: 'photo', item: item.key, atLeast: 1 } }));

const quantity = (type: NumberType): fc.Arbitrary<string> =>
  arbDecimal(type.min, type.max, type.decimals).map((value) =>
    type.unit === '1' ? value.toFixed(3) : `q(${value.toFixed(3)}, ${JSON.stringify(type.unit)})`,
  );
const nameOf = (item: Item): string => item.key.replaceAll('-', '_');

/** Comparisons of every numeric item, per position and over positions; never `has`. */
const arbExpression: fc.Arbitrary<Json> = fc
  .tuple(
    fc.constantFrom(...POSITIONED),
    fc.constantFrom(...POSITIONED),
    fc.constantFrom('&&', '||'),
    fc.constantFrom('all', 'exists', 'exists_one'),
  )
  .chain(([one, two, logic, macro]) =>
    fc.tuple(quantity(one.type as NumberType), quantity(two.type as NumberType)).map(([a, b]) => {
      const name = nameOf(two.item);
      const over = `${name}.${macro}(p, ${name}[p] >= ${b})`;
      const all = `max(${nameOf(one.item)}) >= ${a}`;
      return { items: [one.item.key, two.item.key], test: { kind: 'expression', expr: `${all} ${logic} !(${over})` } };
    }),
  );

const arbEffect = fc.constantFrom('bar', 'inspect', 'advise');

/** Whether the check takes a rule of the right form: one that can never fail is refused. */
function isLive(rule: Json): boolean {
  const ruleSet = RuleSet.parse(makeRuleSet({ rules: [rule] }));
  const [parsed] = ruleSet.rules;
  return parsed !== undefined && findNever(parsed, ruleSet, newBudget()) === undefined;
}

/** Rules without a condition and without `has`, of every kind; some of them can never fail. */
export const arbAnyRules: fc.Arbitrary<Json[]> = fc
  .array(
    fc.tuple(
      fc.oneof({ weight: 6, arbitrary: arbTyped }, arbSpread, arbPhoto, { weight: 2, arbitrary: arbExpression }),
      arbEffect,
    ),
    { minLength: 1, maxLength: 12 },
  )
  .map((parts) => parts.map(([rule, effect], index) => makeRule({ ...rule, id: `rule-${index}`, effect })));

/** Rules without a condition and without `has`, of every kind, that pass the check. */
export const arbRules: fc.Arbitrary<Json[]> = arbAnyRules
  .map((rules) => rules.filter(isLive))
  .filter((rules) => rules.length > 0);

/** A `limit` rule on a number, with two limits of which the second is the tighter one. */
export const arbTightened: fc.Arbitrary<{ loose: Json; tight: Json }> = fc.constantFrom(...NUMBERS).chain((asked) => {
  const type = asked.type as NumberType;
  const numbers = fc.tuple(
    arbDecimal(type.min, type.max, type.decimals),
    arbDecimal(type.min, type.max, type.decimals),
  );
  const pair = fc.tuple(numbers, fc.boolean(), fc.boolean()).map(([[a, b], atLeast, strict]) => {
    const make = (value: number): Json =>
      makeRule({
        items: [asked.item.key],
        test: {
          kind: 'limit',
          ...target(asked),
          [atLeast ? 'atLeast' : 'atMost']: { value },
          ...(strict && { strict }),
        },
      });
    const [low, high] = [Math.min(a, b), Math.max(a, b)];
    return atLeast ? { loose: make(low), tight: make(high) } : { loose: make(high), tight: make(low) };
  });
  return pair.filter(({ loose, tight }) => isLive(loose) && isLive(tight));
});
