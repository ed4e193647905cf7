import { findItem } from '../../catalogue/catalogue.ts';
import { convert, convertDifference, type Unit } from '../../quantity.ts';
import { typeOfAnswer } from '../kinds/answer.ts';
import { toSteps } from '../kinds/counts.ts';
import type { Bound, Looser } from './loosening-compare.ts';
import { expressionBounds } from './loosening-expression.ts';
import { bindParameter, unitOfParameter } from '../model/parameter-values.ts';
import type { Rule, RuleSet } from '../model/rule-set.ts';
import type {
  AgeLimit,
  Count,
  Limit,
  OneOfTest,
  RangeTest,
  SpreadTest,
  Test,
  ValidThroughTest,
} from '../model/test-schema.ts';

type Stated = Pick<Bound, 'parameter' | 'value'>;

const flag = (place: string, looser: Looser, value: number): Bound => ({
  place,
  looser,
  value,
  unit: '1',
  decimals: 0,
});

function readLimit(limit: Exclude<Limit, { vehicle: string }>, ruleSet: RuleSet, unit: Unit, difference: boolean) {
  const bound =
    'value' in limit
      ? { value: limit.value, unit: limit.unit === undefined ? unit : unitOfParameter(limit) }
      : bindParameter(ruleSet, {}, limit.parameter);
  if (bound?.unit === undefined || typeof bound.value !== 'number') return undefined;
  return (difference ? convertDifference : convert)(bound.value, bound.unit, unit);
}

const named = (stated: object): { parameter?: string } =>
  'parameter' in stated && typeof stated.parameter === 'string' ? { parameter: stated.parameter } : {};

interface NumberPlace {
  place: string;
  looser: Looser;
  limit: Limit;
  difference?: boolean;
}

/** A limit in the unit of the item. What the vehicle record states is no part of the rule set: it gives no bound. */
function limitBounds(
  test: RangeTest | SpreadTest | (Test & { kind: 'limit' }),
  places: NumberPlace[],
  ruleSet: RuleSet,
) {
  const item = findItem(test.item);
  const type = item && typeOfAnswer(item, test.field);
  return places.flatMap(({ place, looser, limit, difference = false }): Bound[] => {
    if ('vehicle' in limit) return [];
    // a catalogue of today may not have the item of an older version
    if (type?.kind !== 'number') return [{ place, ...named(limit), looser, value: undefined, unit: '1', decimals: 0 }];
    const { unit, decimals } = type;
    return [{ place, ...named(limit), looser, value: readLimit(limit, ruleSet, unit, difference), unit, decimals }];
  });
}

function listBounds(test: OneOfTest, ruleSet: RuleSet): Bound[] {
  const { values } = test;
  const bound: Stated = Array.isArray(values)
    ? { value: values }
    : { ...named(values), value: bindParameter(ruleSet, {}, values.parameter)?.value };
  const looser = test.kind === 'one-of' ? 'added' : 'removed';
  return [{ place: '/test/values', looser, ...bound, unit: '1', decimals: 0 }];
}

function readSteps(stated: AgeLimit | Count, ruleSet: RuleSet, unit: Unit) {
  if ('value' in stated) return toSteps(stated.value, 'unit' in stated ? stated.unit : unit);
  const bound = bindParameter(ruleSet, {}, stated.parameter);
  return toSteps(bound?.value, bound?.unit);
}

function ageBounds(test: Test & { kind: 'age' }, ruleSet: RuleSet): Bound[] {
  const steps = readSteps(test.atMost, ruleSet, 'day');
  const bound = { place: '/test/atMost', ...named(test.atMost), looser: 'higher', decimals: 0 } as const;
  return [{ ...bound, value: steps?.count, unit: steps?.unit ?? '' }];
}

/** More months, the end of the year and the last day itself all let a date count for longer. */
function validThroughBounds(test: ValidThroughTest, ruleSet: RuleSet): Bound[] {
  const added = test.addYears ?? test.addMonths ?? { value: 0 };
  const steps = readSteps(added, ruleSet, test.addYears === undefined ? 'month' : 'year');
  const months = steps?.unit === 'month' ? steps.count : undefined;
  return [
    { place: '/test/add', ...named(added), looser: 'higher', value: months, unit: 'month', decimals: 0 },
    flag('/test/inclusive', 'higher', Number(test.inclusive)),
    flag('/test/endOfYear', 'higher', Number(test.endOfYear ?? false)),
  ];
}

function testBounds(rule: Rule, ruleSet: RuleSet): Bound[] {
  const { test } = rule;
  switch (test.kind) {
    case 'limit': {
      const place = test.atLeast === undefined ? '/test/atMost' : '/test/atLeast';
      const limit = test.atLeast ?? test.atMost;
      const looser = test.atLeast === undefined ? 'higher' : 'lower';
      const bounds = limit === undefined ? [] : limitBounds(test, [{ place, looser, limit }], ruleSet);
      return [...bounds, flag('/test/strict', 'lower', Number(test.strict ?? false))];
    }
    case 'range': {
      const from: NumberPlace = { place: '/test/from', looser: 'lower', limit: test.from };
      return limitBounds(test, [from, { place: '/test/to', looser: 'higher', limit: test.to }], ruleSet);
    }
    case 'spread': {
      const place: NumberPlace = { place: '/test/atMost', looser: 'higher', limit: test.atMost, difference: true };
      return limitBounds(test, [place], ruleSet);
    }
    case 'one-of':
    case 'none-of':
      return listBounds(test, ruleSet);
    case 'age':
      return ageBounds(test, ruleSet);
    case 'valid-through':
      return validThroughBounds(test, ruleSet);
    case 'photo':
      return [flag('/test/atLeast', 'lower', test.atLeast)];
    case 'confirm':
      return [];
    case 'expression':
      return expressionBounds('/test/expr', test.expr, rule, ruleSet);
  }
}

/**
 * Every place of a rule that decides how strict it is, with its value: numbers in the unit of the item (or of the
 * comparison), ages and label rules in days or months, lists as they are.
 *
 * @param ruleSet gives the parameters; overrides are in its values already
 */
export function boundsOf(rule: Rule, ruleSet: RuleSet): Bound[] {
  const condition = rule.when === undefined ? [] : expressionBounds('/when', rule.when, rule, ruleSet);
  return [...testBounds(rule, ruleSet), ...condition];
}
