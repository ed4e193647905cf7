import { findItem, itemApplies, positionsFor } from '../../catalogue/catalogue.ts';
import type { Item } from '../../catalogue/item.ts';
import { roundTo } from '../../quantity.ts';
import type { Vehicle } from '../../vehicle.ts';
import type { Arithmetic, Comparison } from '../cel/parse.ts';
import { DECIMAL, EXACT } from '../cel/check-arithmetic.ts';
import { CEL_RUNTIME, type CelType, type CelValue, type CelVariable } from '../cel/types.ts';
import { bindPlace } from '../judge/build-finding.ts';
import type { Place } from '../judge/run.ts';
import { type Binder, typeOfAnswer } from '../kinds/answer.ts';
import { bindParameter } from '../model/parameter-values.ts';
import type { RuleRef } from '../model/rule-scope.ts';
import type { Rule, RuleSet } from '../model/rule-set.ts';

/** What is known of one thing that a rule reads. */
export interface State {
  possible: Possible;
  mayBeMissing: boolean;
}

/** A rule at one position on a car of which some properties and some answers are supposed. */
export interface Situation {
  ruleSet: RuleSet;
  binder: Binder;
  /** what is supposed, by the name of its place; everything else may be anything */
  supposed: ReadonlyMap<string, State>;
  places: Map<CelVariable<RuleRef>, Place>;
  /** parts that may still be worked out before we give up: hostile rules must end, too */
  budget: { left: number };
}

/** Positions of an item on a car that states only what is supposed: what it does not state counts as asked. */
export function askedAt(item: Item, vehicle: Vehicle): readonly string[] | undefined {
  return itemApplies(item, vehicle) ? positionsFor(item, vehicle) : [];
}

function carOf(supposed: ReadonlyMap<string, State>): Vehicle {
  const car: Record<string, unknown> = { description: 'any' };
  for (const [name, { possible }] of supposed) {
    const [kind, outer = '', ...inner] = name.split(' ');
    const [value] = possible.k === 'one-of' && possible.values.length === 1 ? possible.values : [];
    // measured numbers decide nothing about what is asked
    if (kind !== 'vehicle' || value === undefined || (typeof value === 'number' && outer !== 'harnessPoints')) continue;
    car[outer] = inner.length === 0 ? value : { ...Object(car[outer]), [inner.join(' ')]: value };
  }
  // every name and value here comes from the schema of the record
  return car as unknown as Vehicle;
}

/** A rule at a position, with some things supposed. */
export function suppose(
  of: { rule: Rule; ruleSet: RuleSet; each: Binder['each']; position: string | undefined; budget: Situation['budget'] },
  supposed: ReadonlyMap<string, State>,
): Situation & { vehicle: Vehicle } {
  const { rule, ruleSet, each, position, budget } = of;
  const vehicle = carOf(supposed);
  const binder: Omit<Binder, 'head' | 'expression'> = {
    ruleSet,
    rule,
    each,
    position,
    event: { startsOn: '', endsOn: '' },
    parameter: (name) => bindParameter(ruleSet, {}, name),
    parameterInOwnUnit: () => undefined,
    positionsOf: (key) => {
      const item = findItem(key);
      return item === undefined ? [] : (askedAt(item, vehicle) ?? []);
    },
  };
  // places and limits are bound with these alone; no finding is made and nothing is compiled
  return { ruleSet, binder: binder as Binder, supposed, places: new Map(), budget, vehicle };
}

/** Where a variable is read in this situation. */
export function placeOf(situation: Situation, variable: CelVariable<RuleRef>): Place {
  const known = situation.places.get(variable);
  if (known !== undefined) return known;
  const place = bindPlace(variable.ref, situation.binder);
  situation.places.set(variable, place);
  return place;
}

/** The name a thing is supposed under; `undefined` for what is the same on every car. */
export function nameOf(place: Place, ref: RuleRef): string | undefined {
  if (ref.from === 'parameter') return `parameter ${ref.name}`;
  if (place.k === 'answer') return `answer ${place.cell}`;
  if (place.k === 'vehicle') return ['vehicle', ...place.path].join(' ');
  return place.k === 'venue' || place.k === 'fact' ? `${place.k} ${place.name}` : undefined;
}

function answerOf(item: Item, field: string | undefined): Possible {
  const type = typeOfAnswer(item, field);
  switch (type?.kind) {
    case 'number': {
      const { min, max, decimals } = type;
      return { k: 'between', low: Math.min(min, roundTo(min, decimals)), high: Math.max(max, roundTo(max, decimals)) };
    }
    case 'choice':
      return exactly(...type.options);
    case 'confirm':
    case 'yes-no':
      return YES_OR_NO;
    default:
      return ANYTHING;
  }
}

function parameterOf(ruleSet: RuleSet, name: string): State {
  const value = ruleSet.parameters[name]?.value;
  // switches, texts and lists are there for run groups to set; a number is judged as the rule set states it
  const possible = typeof value === 'number' ? exactly(value) : typeof value === 'boolean' ? YES_OR_NO : ANYTHING;
  return { possible, mayBeMissing: false };
}

/** All that a name of a rule may stand for, with nothing supposed. */
export function wholeOf(situation: Situation, { ref, type }: CelVariable<RuleRef>): State {
  switch (ref.from) {
    case 'answer':
      return { possible: answerOf(ref.item, ref.field), mayBeMissing: true };
    case 'parameter':
      return parameterOf(situation.ruleSet, ref.name);
    case 'vehicle': {
      const { kind } = ref.field.type;
      if (kind === 'boolean') return { possible: YES_OR_NO, mayBeMissing: true };
      const possible = kind === 'choice' || kind === 'whole' ? exactly(...ref.field.type.options) : ANYTHING;
      return { possible, mayBeMissing: true };
    }
    case 'event':
      return { possible: ANYTHING, mayBeMissing: false };
    case 'position':
      return { possible: exactly(situation.binder.position ?? ''), mayBeMissing: false };
    case 'venue':
    case 'fact':
      return { possible: anyOf(type), mayBeMissing: true };
  }
}

/**
 * What a part of an expression may be at most, whatever a car answers: one of some values (none of them: it never has
 * a value), a number between two, both included, or anything. It may be more than what really occurs, never less.
 */
export type Possible =
  | { k: 'one-of'; values: readonly CelValue[] }
  | { k: 'between'; low: number; high: number }
  | { k: 'any' };

export const ANYTHING: Possible = { k: 'any' };
export const NOTHING: Possible = { k: 'one-of', values: [] };
const YES_OR_NO: Possible = { k: 'one-of', values: [true, false] };

/** More combinations than these are not worked out one by one. */
const MAX_PAIRS = 256;

export const exactly = (...values: CelValue[]): Possible => ({ k: 'one-of', values });

/** Whether a part may be this value. */
export function canBe(possible: Possible, value: CelValue): boolean {
  return possible.k === 'one-of' ? possible.values.includes(value) : true;
}

/** All that a value of this type may be. */
export function anyOf(type: CelType): Possible {
  if (type.kind === 'bool') return YES_OR_NO;
  return type.kind === 'string' && type.options !== undefined ? exactly(...type.options) : ANYTHING;
}

/** What may be one or the other. */
export function either(one: Possible, other: Possible): Possible {
  if (one.k === 'one-of' && one.values.length === 0) return other;
  if (other.k === 'one-of' && other.values.length === 0) return one;
  if (one.k === 'one-of' && other.k === 'one-of') return exactly(...new Set([...one.values, ...other.values]));
  return ANYTHING;
}

/** Smallest and largest; without bounds where it need not be a number. */
export function boundsOf(possible: Possible): { low: number; high: number } {
  if (possible.k === 'between') return possible;
  const unbounded = { low: Number.NEGATIVE_INFINITY, high: Number.POSITIVE_INFINITY };
  if (possible.k === 'any') return unbounded;
  const numbers = possible.values.filter((value) => typeof value === 'number');
  if (numbers.length < possible.values.length || numbers.length === 0) return unbounded;
  return { low: Math.min(...numbers), high: Math.max(...numbers) };
}

/** Every combination of the values of several parts, or `undefined` where they are not few and known. */
export function combine(parts: readonly Possible[]): CelValue[][] | undefined {
  let rows: CelValue[][] = [[]];
  for (const part of parts) {
    if (part.k !== 'one-of' || rows.length * part.values.length > MAX_PAIRS) return undefined;
    rows = rows.flatMap((row) => part.values.map((value) => [...row, value]));
  }
  return rows;
}

const holds: Readonly<Record<Comparison, (left: CelValue, right: CelValue) => boolean>> = {
  '==': (left, right) => left === right,
  '!=': (left, right) => left !== right,
  '<': (left, right) => left < right,
  '<=': (left, right) => left <= right,
  '>': (left, right) => left > right,
  '>=': (left, right) => left >= right,
};

const decided = (always: boolean, never: boolean): Possible =>
  always ? exactly(true) : never ? exactly(false) : YES_OR_NO;

/** What a comparison may give. */
export function compare(operator: Comparison, left: Possible, right: Possible): Possible {
  const rows = combine([left, right]);
  if (rows !== undefined) {
    return exactly(...new Set(rows.map(([one = 0, other = 0]) => holds[operator](one, other))));
  }
  const a = boundsOf(left);
  const b = boundsOf(right);
  const isApart = a.high < b.low || b.high < a.low;
  switch (operator) {
    case '<':
      return decided(a.high < b.low, a.low >= b.high);
    case '<=':
      return decided(a.high <= b.low, a.low > b.high);
    case '>':
      return decided(a.low > b.high, a.high <= b.low);
    case '>=':
      return decided(a.low >= b.high, a.high < b.low);
    case '==':
      return decided(false, isApart);
    case '!=':
      return decided(isApart, false);
  }
}

/** What a calculation may give; one that overflows or divides by zero has no value. */
export function calculate(operator: Arithmetic, whole: boolean, left: Possible, right: Possible): Possible {
  const step = (a: number, b: number) => (whole ? EXACT[operator](a, b) : CEL_RUNTIME.finite(DECIMAL[operator](a, b)));
  const rows = combine([left, right]);
  if (rows !== undefined) {
    const results = rows.map(([a, b]) => step(Number(a), Number(b))).filter((value) => value !== undefined);
    return exactly(...new Set(results));
  }
  const a = boundsOf(left);
  const b = boundsOf(right);
  const isStraight = operator !== '%' && !(operator === '/' && (whole || (b.low <= 0 && b.high >= 0)));
  if (!isStraight) return ANYTHING;
  // each of these is monotone in both numbers, also after rounding, so that the corners bound it
  const corners = [a.low, a.high].flatMap((one) => [b.low, b.high].map((other) => DECIMAL[operator](one, other)));
  if (!corners.every(Number.isFinite)) return ANYTHING;
  return { k: 'between', low: Math.min(...corners), high: Math.max(...corners) };
}
