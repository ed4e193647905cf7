import fc from 'fast-check';
import { CATALOGUE } from '../../../../src/domain/catalogue/catalogue.ts';
import type { Item, SimpleAnswerType } from '../../../../src/domain/catalogue/item.ts';
import { convert, convertDifference, dimensionOf, UNITS, type Unit } from '../../../../src/domain/quantity.ts';
import { arbDecimal } from '../../../support/arbitraries.ts';
import { makeRule } from './rules-support.ts';

type Json = Record<string, unknown>;
type NumberType = Extract<SimpleAnswerType, { kind: 'number' }>;
interface Stated {
  value: unknown;
  unit?: string;
}

/** A floor rule with a named limit `least`, and the limit made looser, the same and tighter in any unit. */
export interface FloorCase {
  rule: Json;
  stated: Stated;
  looser: Stated;
  same: Stated;
  tighter: Stated;
}

const numberOf = ({ answer }: Item): NumberType | undefined => (answer.kind === 'number' ? answer : undefined);
const NUMBERS = CATALOGUE.flatMap((item) => {
  const type = numberOf(item);
  return type === undefined ? [] : [{ item, type }];
});
const CHOICES = CATALOGUE.flatMap((item) => {
  const { answer } = item;
  const isChoice = answer.kind === 'choice' || answer.kind === 'choices';
  return isChoice && answer.options.length > 2 ? [{ key: item.key, options: answer.options }] : [];
});
const DATES = CATALOGUE.filter(({ answer }) => answer.kind === 'date');

const LEAST = { parameter: 'least' };
const floor = (item: string, test: Json, more: Json = {}): Json =>
  makeRule({ items: [item], test, floor: true, id: 'floor', ...more });

interface Way {
  rule: Json;
  /** the looser side of the limit */
  looser: 'lower' | 'higher';
  difference?: boolean;
}

/** Every way a rule can use a number of an item as a limit. */
function waysOf(item: Item, type: NumberType): Way[] {
  const { key } = item;
  const name = key.replaceAll('-', '_');
  const text = item.positions === undefined ? name : `max(${name})`;
  const low = { value: type.min };
  const high = { value: type.max };
  const expression = (expr: string) => floor(key, { kind: 'expression', expr });
  const confirm = { kind: 'photo', item: key, atLeast: 1 };
  const spread = { kind: 'spread', item: key, atMost: LEAST };
  return [
    { looser: 'lower', rule: floor(key, { kind: 'limit', item: key, atLeast: LEAST }) },
    { looser: 'higher', rule: floor(key, { kind: 'limit', item: key, atMost: LEAST, strict: true }) },
    { looser: 'lower', rule: floor(key, { kind: 'range', item: key, from: LEAST, to: high }) },
    { looser: 'higher', rule: floor(key, { kind: 'range', item: key, from: low, to: LEAST }) },
    { looser: 'lower', rule: expression(`${text} >= params.least`) },
    { looser: 'lower', rule: expression(`(params.least) < ${text}`) },
    { looser: 'higher', rule: expression(`params.least >= ${text}`) },
    { looser: 'higher', rule: floor(key, confirm, { when: `${text} > params.least` }) },
    { looser: 'lower', rule: floor(key, confirm, { when: `${text} <= params.least` }) },
    ...(item.positions === undefined
      ? []
      : [{ looser: 'higher', rule: floor(key, spread), difference: true } as const]),
  ];
}

const unitsLike = (unit: Unit): Unit[] =>
  (Object.keys(UNITS) as Unit[]).filter((one) => dimensionOf(one) === dimensionOf(unit));

const arbNumberCase: fc.Arbitrary<FloorCase> = fc
  .constantFrom(...NUMBERS)
  .chain(({ item, type }) =>
    fc.record({
      way: fc.constantFrom(...waysOf(item, type)),
      type: fc.constant(type),
      values: fc.uniqueArray(arbDecimal(type.min, type.max, type.decimals), { minLength: 2, maxLength: 2 }),
      units: fc.array(fc.constantFrom(...unitsLike(type.unit)), { minLength: 4, maxLength: 4 }),
      pick: fc.boolean(),
    }),
  )
  .map(({ way, type, values, units, pick }) => {
    const [low = 0, high = 0] = values.toSorted((a, b) => a - b);
    const change = way.difference === true ? convertDifference : convert;
    const inUnit = (value: number, at: number): Stated => {
      const unit = units[at] ?? type.unit;
      return { value: change(value, type.unit, unit), unit };
    };
    // the limit is either the lower or the higher of the two; the other one is the change
    const isLooser = pick === (way.looser === 'lower');
    const [stated, other] = pick ? [high, low] : [low, high];
    const span = Math.abs(high - low);
    const further = pick ? high + span : low - span;
    const [looser, tighter] = isLooser ? [other, further] : [further, other];
    return {
      rule: way.rule,
      stated: inUnit(stated, 0),
      same: inUnit(stated, 1),
      looser: inUnit(looser, 2),
      tighter: inUnit(tighter, 3),
    };
  });

const inMonths = (months: number, years: boolean): Stated =>
  years && months % 12 === 0 ? { value: months / 12, unit: 'year' } : { value: months, unit: 'month' };

const arbDateCase: fc.Arbitrary<FloorCase> = fc
  .record({
    key: fc.constantFrom(...DATES.map(({ key }) => key)),
    isAge: fc.boolean(),
    months: fc.integer({ min: 1, max: 60 }),
    step: fc.integer({ min: 1, max: 24 }),
    years: fc.boolean(),
  })
  .map(({ key, isAge, months, step, years }) => {
    const through = { kind: 'valid-through', item: key, through: 'event-end', inclusive: true, addMonths: LEAST };
    return {
      rule: floor(key, isAge ? { kind: 'age', item: key, atMost: LEAST } : through),
      stated: inMonths(months, !years),
      same: inMonths(months, years),
      looser: inMonths(months + step, years),
      tighter: inMonths(Math.max(0, months - step), years),
    };
  });

const arbListCase: fc.Arbitrary<FloorCase> = fc
  .constantFrom(...CHOICES)
  .chain(({ key, options }) =>
    fc.record({
      key: fc.constant(key),
      negate: fc.boolean(),
      options: fc.shuffledSubarray([...options], { minLength: options.length }),
    }),
  )
  .map(({ key, negate, options }) => {
    const [, ...stated] = options;
    const [, , ...fewer] = options;
    const rule = floor(key, { kind: negate ? 'none-of' : 'one-of', item: key, values: LEAST });
    return {
      rule,
      stated: { value: stated },
      same: { value: stated.toReversed() },
      looser: { value: negate ? fewer : options },
      tighter: { value: negate ? options : fewer },
    };
  });

export const arbFloorCase: fc.Arbitrary<FloorCase> = fc.oneof(
  { weight: 6, arbitrary: arbNumberCase },
  arbDateCase,
  arbListCase,
);
