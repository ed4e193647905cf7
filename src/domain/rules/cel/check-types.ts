import type { CelFault, Macro, Node } from './parse.ts';
import { checkArithmetic, checkNegate } from './check-arithmetic.ts';
import { checkCall } from './check-call.ts';
import { checkCompare, checkIn, inUnit, isComparable } from './check-compare.ts';
import { type Checker, checkHas, checkPlace, expectBool, fault, FAULTED, findPlace, isFaulted } from './check-names.ts';
import {
  type CelScope,
  type CelType,
  type CelValue,
  type Checked,
  describeType,
  isNumeric,
  isSingle,
} from './types.ts';

const BOOL: CelType = { kind: 'bool' };

/** One type for both, as far as there is one; numbers need one unit. */
function unify<Ref>(left: Checked<Ref>, right: Checked<Ref>): [Checked<Ref>, Checked<Ref>] | undefined {
  if (!isComparable(left.type, right.type)) return undefined;
  if (left.type.kind === 'quantity' && right.type.kind === 'quantity') {
    const converted = inUnit(right, left.type.unit);
    return converted && [left, converted];
  }
  if (isNumeric(left.type)) return left.type.kind === right.type.kind ? [left, right] : undefined;
  return [left, right];
}

function mergedType(left: CelType, right: CelType): CelType {
  if (left.kind !== 'string' || right.kind !== 'string') return left;
  if (left.options === undefined || right.options === undefined) return { kind: 'string' };
  return { kind: 'string', options: [...new Set([...left.options, ...right.options])] };
}

function checkConditional<Ref>(checker: Checker<Ref>, node: Node & { op: 'conditional' }): Checked<Ref> {
  const test = expectBool(checker, node.test);
  const yes = checker.check(node.yes);
  const no = checker.check(node.no);
  if (isFaulted(test, yes, no)) return FAULTED;
  const pair = isSingle(yes.type) && isSingle(no.type) ? unify(yes, no) : undefined;
  if (pair === undefined) {
    return fault(
      checker,
      'type-clash',
      `one side is ${describeType(yes.type)}, the other ${describeType(no.type)}`,
      node,
    );
  }
  return { k: 'if', test, yes: pair[0], no: pair[1], type: mergedType(yes.type, no.type) };
}

function checkList<Ref>(checker: Checker<Ref>, node: Node & { op: 'list' }): Checked<Ref> {
  const elements = node.elements.map((element) => checker.check(element));
  const [first] = elements;
  if (isFaulted(...elements)) return FAULTED;
  if (first === undefined) return { k: 'const', value: [], type: { kind: 'list', of: { kind: 'error' } } };
  const same = elements.map((element) => (isSingle(element.type) ? unify(first, element)?.[1] : undefined));
  const odd = same.indexOf(undefined);
  if (odd >= 0) {
    return fault(checker, 'type-clash', 'the parts of a list are of one type', node.elements[odd] ?? node);
  }
  const parts = same.filter((element) => element !== undefined);
  const of = parts.map((part) => part.type).reduce(mergedType);
  if (parts.every((part) => part.k === 'const')) {
    return {
      k: 'const',
      value: parts.map((part) => (part.k === 'const' ? part.value : '')),
      type: { kind: 'list', of },
    };
  }
  return { k: 'list', elements: parts, type: { kind: 'list', of } };
}

function checkMacro<Ref>(checker: Checker<Ref>, node: Node & { op: 'macro' }): Checked<Ref> {
  if (checker.loop !== undefined) {
    return fault(checker, 'not-in-subset', `${node.macro} cannot stand inside another all, exists or exists_one`, node);
  }
  if (node.range.op !== 'name' && node.range.op !== 'select') {
    return fault(checker, 'not-in-subset', `${node.macro} goes over the positions of an item`, node.range);
  }
  const place = findPlace(checker, node.range);
  if (place === undefined) return FAULTED;
  const { type } = place.variable;
  if (type.kind !== 'map' || place.key !== undefined) {
    return fault(
      checker,
      'not-in-subset',
      `${node.macro} goes over the positions of an item, this is ${describeType(type)}`,
      node.range,
    );
  }
  checker.loops += 1;
  const id = checker.loops;
  checker.loop = { name: node.variable, id, type: { kind: 'string', options: type.keys } };
  const body = expectBool(checker, node.body);
  checker.loop = undefined;
  if (isFaulted(body)) return FAULTED;
  return { k: 'macro', macro: node.macro satisfies Macro, variable: place.variable, id, body, type: BOOL };
}

function checkLiteral<Ref>(node: Extract<Node, { op: 'int' | 'double' | 'string' | 'bool' }>): Checked<Ref> {
  return {
    k: 'const',
    value: node.value,
    type: node.op === 'string' ? { kind: 'string', options: [node.value] } : { kind: node.op },
  };
}

function checkIndex<Ref>(checker: Checker<Ref>, node: Node & { op: 'index' }): Checked<Ref> {
  if (node.operand.op !== 'list') return checkPlace(checker, node);
  const list = checker.check(node.operand);
  const key = checker.check(node.key);
  if (isFaulted(list, key) || list.type.kind !== 'list') return FAULTED;
  if (key.type.kind !== 'int') return fault(checker, 'type-clash', 'a place in a list is a whole number', node.key);
  const pick = (values: readonly CelValue[], at: number): CelValue | undefined => (at < 0 ? undefined : values[at]);
  return { k: 'step', step: pick, args: [list, key], type: list.type.of };
}

function checkNode<Ref>(checker: Checker<Ref>, node: Node): Checked<Ref> {
  switch (node.op) {
    case 'int':
    case 'double':
    case 'string':
    case 'bool':
      return checkLiteral(node);
    case 'list':
      return checkList(checker, node);
    case 'name':
    case 'select':
      return checkPlace(checker, node);
    case 'index':
      return checkIndex(checker, node);
    case 'has':
      return checkHas(checker, node);
    case 'in':
      return checkIn(checker, node);
    case 'call':
      return checkCall(checker, node);
    case 'compare':
      return checkCompare(checker, node);
    case 'arithmetic':
      return checkArithmetic(checker, node);
    case 'negate':
      return checkNegate(checker, node);
    default:
      return checkLogic(checker, node);
  }
}

function checkLogic<Ref>(
  checker: Checker<Ref>,
  node: Extract<Node, { op: 'and' | 'or' | 'not' | 'conditional' | 'macro' }>,
): Checked<Ref> {
  if (node.op === 'conditional') return checkConditional(checker, node);
  if (node.op === 'macro') return checkMacro(checker, node);
  if (node.op === 'not') {
    const operand = expectBool(checker, node.operand);
    return isFaulted(operand) ? FAULTED : { k: 'not', operand, type: BOOL };
  }
  const left = expectBool(checker, node.left);
  const right = expectBool(checker, node.right);
  return isFaulted(left, right) ? FAULTED : { k: node.op, left, right, type: BOOL };
}

/**
 * Gives every part of an expression its type and unit, resolves its names, and makes conversions explicit.
 *
 * @returns the checked tree, or every fault that was found
 */
export function checkTypes<Ref>(
  node: Node,
  scope: CelScope<Ref>,
): { ok: true; checked: Checked<Ref> } | { ok: false; faults: CelFault[] } {
  const checker: Checker<Ref> = {
    scope,
    faults: [],
    loop: undefined,
    loops: 0,
    check: (part) => checkNode(checker, part),
  };
  const checked = checker.check(node);
  if (checker.faults.length > 0) return { ok: false, faults: checker.faults };
  if (!isSingle(checked.type) || checked.type.kind === 'error') {
    fault(checker, 'type-clash', `a single value is needed, this is ${describeType(checked.type)}`, node);
    return { ok: false, faults: checker.faults };
  }
  return { ok: true, checked };
}
