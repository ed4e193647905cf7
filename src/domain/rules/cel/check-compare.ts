import { convert, roundTo, type Unit } from '../../quantity.ts';
import type { Comparison, Node } from './parse.ts';
import { type Checker, fault, FAULTED, isFaulted } from './check-names.ts';
import {
  type CelType,
  type CelValue,
  type Checked,
  describeType,
  isNumeric,
  isPlain,
  isSingle,
  type Step,
} from './types.ts';

const BOOL: CelType = { kind: 'bool' };

function isIn(item: CelValue, list: readonly CelValue[]): boolean {
  if (!Array.isArray(item)) return list.includes(item);
  const text = JSON.stringify(item);
  return list.some((one) => Array.isArray(one) && JSON.stringify(one) === text);
}

/** `"FL" in x`: whether the position is answered. */
function checkPosition<Ref>(
  checker: Checker<Ref>,
  item: Checked<Ref>,
  map: Checked<Ref> & { k: 'read' },
  node: Node,
): Checked<Ref> {
  const keys = map.type.kind === 'map' ? map.type.keys : [];
  if (item.type.kind !== 'string') return fault(checker, 'type-clash', 'a position is a text', node);
  if (item.k === 'const' && typeof item.value === 'string' && !keys.includes(item.value)) {
    return fault(checker, 'unknown-position', `there are the positions ${keys.join(', ')}`, node);
  }
  return { k: 'present', variable: map.variable, key: item, type: BOOL };
}

/** `x in [a, b]`, or `"FL" in x` for an item with positions. */
export function checkIn<Ref>(checker: Checker<Ref>, node: Node & { op: 'in' }): Checked<Ref> {
  const item = checker.check(node.item);
  const list = checker.check(node.list);
  if (isFaulted(item, list)) return FAULTED;
  if (list.k === 'read' && list.type.kind === 'map') return checkPosition(checker, item, list, node);
  if (list.type.kind !== 'list') return fault(checker, 'type-clash', `${describeType(list.type)} is not a list`, node);
  const { of } = list.type;
  const pair = `${describeType(item.type)} in a list of ${describeType(of)}`;
  // the empty list has no type to compare with
  if (of.kind === 'error') return { k: 'step', step: isIn, args: [item, list], type: BOOL };
  if (!isSingle(item.type) || !isComparable(item.type, of)) return fault(checker, 'type-clash', pair, node);
  if (!checkOptions(checker, item, list, node)) return FAULTED;
  const alike = isNumeric(item.type) ? inUnit(item, of.kind === 'quantity' ? of.unit : '1') : item;
  if (alike === undefined) return fault(checker, 'unit-clash', pair, node);
  return { k: 'step', step: isIn, args: [alike, list], type: BOOL };
}

const NUMBER_PLAIN_UNIT: Unit = '1';

/** Wraps a part in a step; on a constant the step is taken now. */
export function applyStep<Ref>(part: Checked<Ref>, step: Step, type: CelType): Checked<Ref> {
  // a step is built for the type of the part it is given
  const take = step as (value: CelValue) => CelValue | undefined;
  if (part.k !== 'const') return { k: 'step', step, args: [part], type };
  const value = take(part.value);
  return value === undefined ? { k: 'step', step, args: [part], type } : { k: 'const', value, type };
}

const unitOf = (type: CelType): Unit => (type.kind === 'quantity' ? type.unit : NUMBER_PLAIN_UNIT);
const decimalsOf = (type: CelType): number | undefined =>
  type.kind === 'quantity' || type.kind === 'double' ? type.decimals : undefined;

/** The part in another unit; `undefined` when the units measure different things. */
export function inUnit<Ref>(part: Checked<Ref>, unit: Unit): Checked<Ref> | undefined {
  const from = unitOf(part.type);
  if (from === unit) return part;
  if (convert(1, from, unit) === undefined) return undefined;
  return applyStep(part, (value: number) => convert(value, from, unit), { kind: 'quantity', unit });
}

function rounded<Ref>(part: Checked<Ref>, decimals: number): Checked<Ref> {
  const isReading = part.k === 'read' || part.k === 'at';
  if (isReading && decimalsOf(part.type) === decimals) return part;
  const scale = 10 ** decimals;
  // most numbers are rounded already, and rounding in decimal is slow
  const step = (value: number) => (Math.round(value * scale) / scale === value ? value : roundTo(value, decimals));
  return applyStep(part, step, part.type);
}

/**
 * Two numbers made comparable: in the unit of the side that is kept with decimals, both rounded to these, so that
 * the value judged is the value shown. Two plain numbers stay as they are.
 */
function alignNumbers<Ref>(left: Checked<Ref>, right: Checked<Ref>): [Checked<Ref>, Checked<Ref>] | undefined {
  const leads = decimalsOf(left.type) !== undefined || decimalsOf(right.type) === undefined ? left : right;
  const unit = unitOf(leads.type);
  const a = inUnit(left, unit);
  const b = inUnit(right, unit);
  if (a === undefined || b === undefined) return undefined;
  const decimals = [a, b].map((part) => decimalsOf(part.type)).filter((value) => value !== undefined);
  if (decimals.length === 0) return [a, b];
  const kept = Math.max(...decimals);
  return [rounded(a, kept), rounded(b, kept)];
}

function unitHint(left: CelType, right: CelType): string {
  const unit = left.kind === 'quantity' ? left.unit : right.kind === 'quantity' ? right.unit : '';
  return isPlain(left) || isPlain(right) ? `; write a number with its unit, for example q(4, "${unit}")` : '';
}

const strings = (value: CelValue): string[] =>
  typeof value === 'string' ? [value] : Array.isArray(value) ? value.flatMap((one: CelValue) => strings(one)) : [];

/** Constant texts of a part, and those of the parameter it reads. */
function statedTexts<Ref>(checker: Checker<Ref>, part: Checked<Ref>, options: readonly string[]): readonly string[] {
  if (part.k === 'const') return strings(part.value);
  if (part.k === 'list') return part.elements.flatMap((element) => statedTexts(checker, element, options));
  const parameter = part.type.kind === 'string' || part.type.kind === 'list' ? part.type.parameter : undefined;
  return parameter === undefined ? [] : (checker.scope.useOptions?.(parameter, options) ?? []);
}

const optionsOf = (type: CelType): readonly string[] | undefined =>
  type.kind === 'string' ? type.options : type.kind === 'list' ? optionsOf(type.of) : undefined;

const isOpen = <Ref>(part: Checked<Ref>): boolean => part.k !== 'const' && part.k !== 'list';

/** Notes a text that can never be equal to a choice: it is not among the options. */
export function checkOptions<Ref>(checker: Checker<Ref>, left: Checked<Ref>, right: Checked<Ref>, node: Node): boolean {
  for (const [choice, other] of [
    [left, right],
    [right, left],
  ] as const) {
    const options = optionsOf(choice.type);
    if (options === undefined || !isOpen(choice)) continue;
    const wrong = statedTexts(checker, other, options).find((text) => !options.includes(text));
    if (wrong !== undefined) {
      fault(
        checker,
        'unknown-option',
        `${JSON.stringify(wrong)} is not an option; there are ${options.join(', ')}`,
        node,
      );
      return false;
    }
    const theirs = isOpen(other) ? optionsOf(other.type) : undefined;
    if (theirs !== undefined && !theirs.some((text) => options.includes(text))) {
      fault(checker, 'unknown-option', `the two can never be equal: ${describeType(other.type)}`, node);
      return false;
    }
  }
  return true;
}

/** Whether two types have values that can be equal. Numbers are looked at by their units elsewhere. */
export function isComparable(left: CelType, right: CelType): boolean {
  if (isNumeric(left) && isNumeric(right)) return true;
  if (left.kind === 'list' && right.kind === 'list') {
    return left.of.kind === 'error' || right.of.kind === 'error' || isComparable(left.of, right.of);
  }
  return left.kind === right.kind && ['bool', 'string', 'date'].includes(left.kind);
}

function equalLists(left: CelValue, right: CelValue): boolean {
  if (!Array.isArray(left) || !Array.isArray(right)) return left === right;
  return (
    left.length === right.length && left.every((one: CelValue, index) => equalLists(one, right[index] as CelValue))
  );
}

/** Texts sort by code point, as the language says; JavaScript would sort by UTF-16 unit. */
function compareTexts(left: string, right: string): number {
  const a = Array.from(left, (char) => char.codePointAt(0) ?? 0);
  const b = Array.from(right, (char) => char.codePointAt(0) ?? 0);
  const at = a.findIndex((code, index) => code !== b[index]);
  if (at < 0) return a.length - b.length;
  return (a[at] ?? 0) - (b[at] ?? -1);
}

const ZERO = <Ref>(): Checked<Ref> => ({ k: 'const', value: 0, type: { kind: 'int' } });

function orderTexts<Ref>(left: Checked<Ref>, right: Checked<Ref>): Checked<Ref> {
  return { k: 'step', step: compareTexts, args: [left, right], type: { kind: 'int' } };
}

function checkNumbers<Ref>(
  checker: Checker<Ref>,
  operator: Comparison,
  left: Checked<Ref>,
  right: Checked<Ref>,
  node: Node,
): Checked<Ref> {
  const aligned = alignNumbers(left, right);
  if (aligned === undefined) {
    const pair = `${describeType(left.type)} and ${describeType(right.type)} cannot be compared`;
    return fault(checker, 'unit-clash', pair + unitHint(left.type, right.type), node);
  }
  return { k: 'compare', operator, left: aligned[0], right: aligned[1], type: { kind: 'bool' } };
}

function checkTexts<Ref>(
  checker: Checker<Ref>,
  operator: Comparison,
  left: Checked<Ref>,
  right: Checked<Ref>,
  node: Node,
): Checked<Ref> {
  if (!checkOptions(checker, left, right, node)) return { k: 'const', value: false, type: { kind: 'error' } };
  if (operator === '==' || operator === '!=') return { k: 'compare', operator, left, right, type: { kind: 'bool' } };
  if ([left, right].some((part) => isOpen(part) && optionsOf(part.type) !== undefined)) {
    return fault(checker, 'type-clash', 'choices have no order: use == or in', node);
  }
  return { k: 'compare', operator, left: orderTexts(left, right), right: ZERO(), type: { kind: 'bool' } };
}

/** `== != < <= > >=`: types must match, units must convert, choices know their options and have no order. */
export function checkCompare<Ref>(checker: Checker<Ref>, node: Node & { op: 'compare' }): Checked<Ref> {
  const left = checker.check(node.left);
  const right = checker.check(node.right);
  if (isFaulted(left, right)) return { k: 'const', value: false, type: { kind: 'error' } };
  const { operator } = node;
  if (!isComparable(left.type, right.type)) {
    const pair = `${describeType(left.type)} and ${describeType(right.type)} cannot be compared`;
    return fault(checker, 'type-clash', pair, node);
  }
  if (isNumeric(left.type)) return checkNumbers(checker, operator, left, right, node);
  if (left.type.kind === 'string') return checkTexts(checker, operator, left, right, node);
  const isEquality = operator === '==' || operator === '!=';
  if (left.type.kind !== 'list') {
    return { k: 'compare', operator, left, right, type: { kind: 'bool' } };
  }
  if (!isEquality) return fault(checker, 'type-clash', 'lists have no order', node);
  if (!checkOptions(checker, left, right, node)) return { k: 'const', value: false, type: { kind: 'error' } };
  const equal: Checked<Ref> = { k: 'step', step: equalLists, args: [left, right], type: { kind: 'bool' } };
  return operator === '==' ? equal : { k: 'not', operand: equal, type: { kind: 'bool' } };
}
