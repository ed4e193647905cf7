import type { Node } from './ast.ts';
import { checkOptions, inUnit, isComparable } from './check-compare.ts';
import type { Checked } from './checked.ts';
import { type Checker, FAULTED, fault, isFaulted } from './checker.ts';
import { type CelType, type CelValue, describeType, isNumeric, isSingle } from './types.ts';

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
