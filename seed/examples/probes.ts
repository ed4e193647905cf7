import { addDays, addMonths, endOfYear } from '../../src/domain/calendar.ts';
import { findItem } from '../../src/domain/catalogue/catalogue.ts';
import type { SimpleAnswerType } from '../../src/domain/catalogue/item.ts';
import type { Rule, RuleSet } from '../../src/domain/rules/model/rule-set.ts';
import type { Limit, OneOfTest, Test } from '../../src/domain/rules/model/test-schema.ts';
import { convert, parseUnit, roundTo } from '../../src/domain/quantity.ts';
import type { Vehicle } from '../../src/domain/vehicle.ts';
import { ENDS_ON } from './example-case.ts';

/** An answer to try at the first position, while all others have `good`. */
export interface Probe {
  shows: string;
  value: unknown;
  good: unknown;
  result: 'met' | 'not-met' | 'unanswerable';
}

/** What probes are made from: the rule, the answer it judges, and where its limits come from. */
export interface Probed {
  rule: Rule;
  type: SimpleAnswerType;
  parameters: RuleSet['parameters'];
  vehicle: Partial<Vehicle>;
}

type NumberType = Extract<SimpleAnswerType, { kind: 'number' }>;
type TestOf<K extends Test['kind']> = Extract<Test, { kind: K }>;

/** A limit as the rule judges it: in the item's unit, rounded to its decimals. */
function limitIn(probed: Probed, limit: Limit, type: NumberType): number {
  if ('vehicle' in limit) return vehicleLimit(probed, limit.vehicle);
  const stated = 'parameter' in limit ? probed.parameters[limit.parameter] : limit;
  const unit = stated?.unit === undefined ? type.unit : parseUnit(stated.unit);
  const value = unit && convert(Number(stated?.value), unit, type.unit);
  if (value === undefined) throw new Error(`${probed.rule.id}: no limit in ${type.unit}`);
  return roundTo(value, type.decimals);
}

function vehicleLimit({ rule, vehicle }: Probed, name: string): number {
  const stated = Object.entries(vehicle).find(([key]) => key === name)?.[1];
  const value: unknown = typeof stated === 'object' ? Object.values(stated)[0] : stated;
  if (typeof value !== 'number') throw new Error(`${rule.id}: the setting must state vehicle.${name}`);
  return value;
}

const numberOf = ({ rule, type }: Probed): NumberType => {
  if (type.kind === 'number') return type;
  throw new Error(`${rule.id}: the item is not answered by a number`);
};

function edges(limit: number, type: NumberType, outward: 1 | -1): Probe[] {
  const outside = roundTo(limit + outward * 10 ** -type.decimals, type.decimals);
  const inside = { shows: `${limit} ${type.unit} is just inside`, value: limit, good: limit, result: 'met' } as const;
  return [inside, { shows: `${outside} ${type.unit} is just outside`, value: outside, good: limit, result: 'not-met' }];
}

/** The same where the rule does not decide simply: what is declared on the limit is too close to call, what is measured is not met. */
function guardedEdges(limit: number, type: NumberType, outward: 1 | -1, isMeasured: boolean): Probe[] {
  const guard = type.uncertainty?.expanded ?? 0;
  const [, outside] = edges(limit, type, outward);
  const safe = roundTo(limit - outward * guard, type.decimals);
  const met: Probe = { shows: `${safe} ${type.unit} is inside by U`, value: safe, good: safe, result: 'met' };
  const result = isMeasured ? 'not-met' : 'unanswerable';
  const step = roundTo(safe + outward * 10 ** -type.decimals, type.decimals);
  const near = [step, limit].map((value): Probe => {
    return { shows: `${value} ${type.unit} is too close to call`, value, good: safe, result };
  });
  return outside === undefined ? [met, ...near] : [met, ...near, { ...outside, good: safe }];
}

function probeLimit(probed: Probed, test: TestOf<'limit'>): Probe[] {
  const type = numberOf(probed);
  const asked = test.atLeast ?? test.atMost;
  if (asked === undefined) throw new Error(`${probed.rule.id}: no limit`);
  const outward = test.atLeast === undefined ? 1 : -1;
  const limit = limitIn(probed, asked, type);
  const { decision = 'simple' } = probed.rule;
  if (decision === 'simple') return edges(limit, type, outward);
  return guardedEdges(limit, type, outward, findItem(test.item)?.answeredBy === 'inspector');
}

function probeRange(probed: Probed, test: TestOf<'range'>): Probe[] {
  const type = numberOf(probed);
  return [...edges(limitIn(probed, test.from, type), type, -1), ...edges(limitIn(probed, test.to, type), type, 1)];
}

function probeChoices(probed: Probed, test: OneOfTest): Probe[] {
  const listed = Array.isArray(test.values) ? test.values : probed.parameters[test.values.parameter]?.value;
  if (!Array.isArray(listed)) throw new Error(`${probed.rule.id}: no list`);
  const options = 'options' in probed.type ? probed.type.options : ['not a known text'];
  const other = options.find((option) => !listed.includes(option));
  const wrap = (text: string | undefined) => (probed.type.kind === 'choices' ? [text] : text);
  const isOneOf = test.kind === 'one-of';
  // a list in the rule is tried whole; of an acceptance list, which organizers change, the first and the last
  const tried = Array.isArray(test.values) ? listed : [listed[0], listed.at(-1)];
  const good = wrap(isOneOf ? listed[0] : other);
  const inList = isOneOf ? ('met' as const) : ('not-met' as const);
  return [
    ...tried.map((text): Probe => ({ shows: `${text}`, value: wrap(text), good, result: inList })),
    { shows: `${other}`, value: wrap(other), good, result: isOneOf ? 'not-met' : 'met' },
  ];
}

function probeConfirm(expected: boolean): Probe[] {
  const say = (value: boolean) => (value ? 'yes' : 'no');
  return [
    { shows: say(expected), value: expected, good: expected, result: 'met' },
    { shows: say(!expected), value: !expected, good: expected, result: 'not-met' },
  ];
}

function probeDates(oldest: string): Probe[] {
  const before = addDays(oldest, -1);
  return [
    { shows: `${oldest} is just inside`, value: oldest, good: oldest, result: 'met' },
    { shows: `${before} is just outside`, value: before, good: oldest, result: 'not-met' },
  ];
}

function probeAge(probed: Probed, test: TestOf<'age'>): Probe[] {
  const limit = 'parameter' in test.atMost ? probed.parameters[test.atMost.parameter] : test.atMost;
  const count = Number(limit?.value);
  if (limit?.unit === 'day') return probeDates(addDays(ENDS_ON, -count));
  return probeDates(addMonths(ENDS_ON, limit?.unit === 'year' ? -count * 12 : -count));
}

function probeValidity(probed: Probed, test: TestOf<'valid-through'>): Probe[] {
  const count = (stated: typeof test.addYears): number =>
    stated === undefined
      ? 0
      : Number('parameter' in stated ? probed.parameters[stated.parameter]?.value : stated.value);
  const made = addMonths(ENDS_ON, -count(test.addMonths) - 12 * count(test.addYears));
  // with the label rule "to the end of the year" the whole first year is inside
  return probeDates(test.endOfYear ? addDays(endOfYear(addMonths(made, -12)), 1) : made);
}

function probeSpread(probed: Probed, test: TestOf<'spread'>): Probe[] {
  const type = numberOf(probed);
  const good = 6;
  return edges(limitIn(probed, test.atMost, type), type, 1).map((probe) => ({
    ...probe,
    value: roundTo(good + Number(probe.value), type.decimals),
    good,
  }));
}

/** Answers on both sides of a typed test; an expression gets none, its cases are written by hand. */
export function probesOf(probed: Probed): Probe[] {
  const { test } = probed.rule;
  switch (test.kind) {
    case 'limit':
      return probeLimit(probed, test);
    case 'range':
      return probeRange(probed, test);
    case 'one-of':
    case 'none-of':
      return probeChoices(probed, test);
    case 'confirm':
      return probeConfirm(test.expect ?? true);
    case 'age':
      return probeAge(probed, test);
    case 'valid-through':
      return probeValidity(probed, test);
    case 'spread':
      return probeSpread(probed, test);
    case 'photo':
    case 'expression':
      return [];
  }
}
