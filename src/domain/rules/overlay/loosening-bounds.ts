import { findItem } from '../../catalogue/catalogue.ts';
import { convert, convertDifference, roundTo, type Unit } from '../../quantity.ts';
import { parseCel } from '../cel/parse.ts';
import { typeOfAnswer } from '../kinds/answer.ts';
import { toSteps } from '../kinds/dates.ts';
import { bindParameter, unitOfParameter } from '../model/parameter-values.ts';
import { eachOf } from '../model/rule-each.ts';
import { type ComparedParts, compileRuleExpression, noUses, type RuleRef } from '../model/rule-scope.ts';
import type { ParameterValue, Rule, RuleSet } from '../model/rule-set.ts';
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

const nameOfParameter = (ref: RuleRef): string | undefined => (ref.from === 'parameter' ? ref.name : undefined);

/** Whether one side of the comparison is `params.name` and nothing else. */
function standsAlone(source: string, name: string): boolean {
  const parsed = parseCel(source);
  if (!parsed.ok || parsed.node.op !== 'compare') return false;
  return [parsed.node.left, parsed.node.right].some(
    (side) => side.op === 'name' && side.path.length === 2 && side.path[0] === 'params' && side.path[1] === name,
  );
}

/** The parameter that an answer is compared with, when it is all there is on its side and on no other. */
function findPlainLimit(source: string, { answer, limit }: ComparedParts): string | undefined {
  const [only, ...more] = limit.variables;
  const name = only && nameOfParameter(only.ref);
  if (name === undefined || more.length > 0) return undefined;
  const isOnBothSides = answer.variables.some(({ ref }) => nameOfParameter(ref) === name);
  return isOnBothSides || !standsAlone(source, name) ? undefined : name;
}

function directionOf(operator: ComparedParts['operator'], isCondition: boolean): Looser {
  if (operator === '==') return 'unclear';
  const isFloor = operator === '>' || operator === '>=';
  // a test gets easier to meet, a condition lets the rule apply to fewer cars
  return isFloor === isCondition ? 'higher' : 'lower';
}

function plainBound(place: string, parameter: string, compared: ComparedParts, ruleSet: RuleSet): Bound {
  const bound = bindParameter(ruleSet, {}, parameter);
  const { unit, decimals, operator } = compared;
  const value = typeof bound?.value === 'number' ? convert(bound.value, bound.unit, unit) : undefined;
  return { place, parameter, looser: directionOf(operator, place === '/when'), value, unit, decimals };
}

const UNCLEAR_DECIMALS = 9;

function unclearBound(place: string, parameter: string, ruleSet: RuleSet): Bound {
  const bound = bindParameter(ruleSet, {}, parameter);
  const shown = { value: bound?.value, unit: bound?.unit ?? '', decimals: UNCLEAR_DECIMALS };
  return { place, parameter, looser: 'unclear', ...shown };
}

/**
 * One bound per parameter that an expression reads. Which way it loosens is known where the whole expression compares
 * an answer with the parameter; everywhere else every change may loosen.
 *
 * @param place `/test/expr` or `/when`; a condition that holds for fewer cars loosens
 */
function expressionBounds(place: '/test/expr' | '/when', source: string, rule: Rule, ruleSet: RuleSet): Bound[] {
  const uses = noUses();
  const compiled = compileRuleExpression(source, ruleSet, eachOf(rule), uses);
  if (!compiled.ok) return [{ place, looser: 'unclear', value: undefined, unit: '', decimals: 0 }];
  const { compared } = compiled.expression;
  const plain = compared && findPlainLimit(source, compared);
  return [...uses.parameters].map((name) =>
    compared !== undefined && name === plain
      ? plainBound(place, name, compared, ruleSet)
      : unclearBound(place, name, ruleSet),
  );
}

/**
 * What makes a rule easier to meet, or lets it apply to fewer cars: a lower or higher number, a text added to or taken
 * out of a list. `unclear`: it cannot be told, so every change may.
 */
type Looser = 'lower' | 'higher' | 'added' | 'removed' | 'unclear';

/** One place of a rule that decides how strict it is, with the value it has in a rule set. */
export interface Bound {
  /** in the rule: `/test/atLeast`, `/when`; unique within a rule for one parameter */
  place: string;
  /** the parameter that gives the value; absent: the rule states it */
  parameter?: string;
  looser: Looser;
  /** comparable with that of another rule set where `unit` is the same; `undefined`: there is no usable value */
  value: ParameterValue | undefined;
  unit: string;
  /** numbers are judged rounded to these */
  decimals: number;
}

/** How the value of a place differs: `same`, `tighter` and `looser` are certain. */
type Difference = 'same' | 'tighter' | 'looser' | 'unclear';

/** Smaller differences than this, relative to the numbers, are noise of converting units. */
const NOISE = 1e-9;

/** Lower as judged, or by more than the noise of converting although rounding hides it. */
function isLower(a: number, b: number, decimals: number): boolean {
  return roundTo(a, decimals) < roundTo(b, decimals) || b - a > NOISE * Math.max(1, Math.abs(a), Math.abs(b));
}

function compareLists(was: readonly string[], now: readonly string[], looser: Looser): Difference {
  const added = now.some((one) => !was.includes(one));
  const removed = was.some((one) => !now.includes(one));
  if (!added && !removed) return 'same';
  if (looser === 'added') return added ? 'looser' : 'tighter';
  if (looser === 'removed') return removed ? 'looser' : 'tighter';
  return 'unclear';
}

function compareNumbers(was: number, now: number, { looser, decimals }: Bound): Difference {
  const lower = isLower(now, was, decimals);
  if (!lower && !isLower(was, now, decimals)) return 'same';
  if (looser !== 'lower' && looser !== 'higher') return 'unclear';
  return lower === (looser === 'lower') ? 'looser' : 'tighter';
}

/**
 * Compares one place of a rule before and after a change.
 *
 * @returns `unclear` also where one of the two has no usable value, or another unit or meaning
 */
export function compareBounds(before: Bound, after: Bound): Difference {
  const [was, now] = [before.value, after.value];
  if (was === undefined || now === undefined) return 'unclear';
  if (before.looser !== after.looser || before.unit !== after.unit) return 'unclear';
  if (typeof was === 'number' && typeof now === 'number') return compareNumbers(was, now, after);
  if (Array.isArray(was) && Array.isArray(now)) return compareLists(was, now, after.looser);
  return was === now ? 'same' : 'unclear';
}
