import type { Arithmetic, Comparison } from '../cel/ast.ts';
import { CEL_RUNTIME } from '../cel/runtime.ts';
import type { CelType, CelValue } from '../cel/types.ts';

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
export const YES_OR_NO: Possible = { k: 'one-of', values: [true, false] };

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

const WHOLE = {
  '+': CEL_RUNTIME.add,
  '-': CEL_RUNTIME.subtract,
  '*': CEL_RUNTIME.multiply,
  '/': CEL_RUNTIME.divide,
  '%': CEL_RUNTIME.remainder,
};
const DECIMAL: Readonly<Record<Arithmetic, (left: number, right: number) => number>> = {
  '+': (left, right) => left + right,
  '-': (left, right) => left - right,
  '*': (left, right) => left * right,
  '/': (left, right) => left / right,
  '%': (left, right) => left % right,
};

/** What a calculation may give; one that overflows or divides by zero has no value. */
export function calculate(operator: Arithmetic, whole: boolean, left: Possible, right: Possible): Possible {
  const step = (a: number, b: number) => (whole ? WHOLE[operator](a, b) : CEL_RUNTIME.finite(DECIMAL[operator](a, b)));
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
