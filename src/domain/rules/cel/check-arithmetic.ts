import { dimensionOf } from '../../quantity.ts';
import type { Arithmetic, Node } from './ast.ts';
import { inUnit } from './check-compare.ts';
import type { Checked } from './checked.ts';
import { type Checker, fault, isFaulted } from './checker.ts';
import { type CelType, describeType, isNumeric, isPlain } from './types.ts';

const SCALED = ['temperature', 'sound-level'];

/** Numbers on a scale with a zero of its own: 20 °C is not twice 10 °C, 90 dB(A) and 90 dB(A) are not 180. */
const isScaled = (type: CelType): boolean => type.kind === 'quantity' && SCALED.includes(dimensionOf(type.unit));

function plainResult(left: CelType, right: CelType): CelType | undefined {
  if (left.kind === 'int' && right.kind === 'int') return { kind: 'int' };
  return left.kind === 'double' && right.kind === 'double' ? { kind: 'double' } : undefined;
}

type Quantity = Extract<CelType, { kind: 'quantity' }>;

/** Two quantities, in one unit by now: a ratio, or a sum that keeps the decimals both are kept with. */
function quantitiesResult(operator: Arithmetic, left: Quantity, right: Quantity): CelType | undefined {
  if (operator === '/') return { kind: 'double' };
  if (operator !== '+' && operator !== '-') return undefined;
  const { unit } = left;
  if (left.decimals === undefined || right.decimals === undefined) return { kind: 'quantity', unit };
  return { kind: 'quantity', unit, decimals: Math.max(left.decimals, right.decimals) };
}

/** Type of `left operator right`, once both are in one unit; `undefined` when the operation has no meaning. */
function resultOf(operator: Arithmetic, left: CelType, right: CelType): CelType | undefined {
  if (operator === '%') return left.kind === 'int' && right.kind === 'int' ? { kind: 'int' } : undefined;
  if (left.kind === 'quantity' && right.kind === 'quantity') return quantitiesResult(operator, left, right);
  if (left.kind === 'quantity')
    return operator === '*' || operator === '/' ? { kind: 'quantity', unit: left.unit } : undefined;
  if (right.kind === 'quantity') return operator === '*' ? { kind: 'quantity', unit: right.unit } : undefined;
  return plainResult(left, right);
}

function refuse<Ref>(
  checker: Checker<Ref>,
  node: Node & { op: 'arithmetic' },
  left: CelType,
  right: CelType,
): Checked<Ref> {
  const hint = isPlain(left) && isPlain(right) ? ': whole numbers and decimals do not mix, write 2.0 or double(x)' : '';
  const detail = `${describeType(left)} ${node.operator} ${describeType(right)} has no meaning${hint}`;
  const bothUnits = left.kind === 'quantity' && right.kind === 'quantity';
  return fault(checker, bothUnits ? 'unit-clash' : 'type-clash', detail, node);
}

/** `+ - * / %` on whole numbers, on decimals, and on quantities as far as their units allow. */
export function checkArithmetic<Ref>(checker: Checker<Ref>, node: Node & { op: 'arithmetic' }): Checked<Ref> {
  const left = checker.check(node.left);
  const given = checker.check(node.right);
  if (isFaulted(left, given)) return { k: 'const', value: false, type: { kind: 'error' } };
  if (!isNumeric(left.type) || !isNumeric(given.type)) return refuse(checker, node, left.type, given.type);
  if (isScaled(left.type) || isScaled(given.type)) {
    return fault(checker, 'unit-clash', 'temperatures and sound levels can be compared, not calculated with', node);
  }
  const sameUnit = left.type.kind === 'quantity' && given.type.kind === 'quantity';
  const right = sameUnit && left.type.kind === 'quantity' ? inUnit(given, left.type.unit) : given;
  const type = right && resultOf(node.operator, left.type, right.type);
  if (right === undefined || type === undefined) return refuse(checker, node, left.type, given.type);
  return { k: 'arithmetic', operator: node.operator, whole: type.kind === 'int', left, right, type };
}

/** `-x` of a number. */
export function checkNegate<Ref>(checker: Checker<Ref>, node: Node & { op: 'negate' }): Checked<Ref> {
  const operand = checker.check(node.operand);
  if (isFaulted(operand)) return operand;
  if (!isNumeric(operand.type) || isScaled(operand.type)) {
    return fault(checker, 'type-clash', `- before ${describeType(operand.type)} has no meaning`, node);
  }
  const zero: Checked<Ref> = { k: 'const', value: 0, type: operand.type };
  return {
    k: 'arithmetic',
    operator: '-',
    whole: operand.type.kind === 'int',
    left: zero,
    right: operand,
    type: operand.type,
  };
}
