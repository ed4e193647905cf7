import { convertDifference, dimensionOf } from '../../quantity.ts';
import type { Arithmetic, Node } from './parse.ts';
import { applyStep, inUnit } from './check-compare.ts';
import { type Checker, fault, isFaulted } from './check-names.ts';
import { CEL_RUNTIME, type CelType, type CelValue, type Checked, describeType, isNumeric, isPlain } from './types.ts';

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

/** Tells the scope of every name that a difference is made of. */
function noteDifference<Ref>(checker: Checker<Ref>, part: Checked<Ref>): void {
  if (part.k === 'read' || part.k === 'at') checker.scope.useDifference?.(part.variable.ref);
  else if (part.k === 'if') for (const side of [part.yes, part.no]) noteDifference(checker, side);
  else if (part.k === 'step') for (const arg of part.args) noteDifference(checker, arg);
}

/**
 * A temperature in °C or °F and a difference, which is written in K: 180 °C + 20 K. Between two temperatures of one
 * scale it could not be told which of them is a difference.
 */
function shiftTemperature<Ref>(
  checker: Checker<Ref>,
  operator: Arithmetic,
  left: Checked<Ref>,
  right: Checked<Ref>,
): Checked<Ref> | undefined {
  if (left.type.kind !== 'quantity' || right.type.kind !== 'quantity') return undefined;
  const { unit } = left.type;
  const isShift = right.type.unit === 'K' && (unit === '°C' || unit === '°F');
  if (!isShift || (operator !== '+' && operator !== '-')) return undefined;
  noteDifference(checker, right);
  const inScale = (value: number) => convertDifference(value, 'K', unit);
  const difference = applyStep(right, inScale, { kind: 'quantity', unit });
  return { k: 'arithmetic', operator, whole: false, left, right: difference, type: { kind: 'quantity', unit } };
}

function checkScaled<Ref>(
  checker: Checker<Ref>,
  node: Node & { op: 'arithmetic' },
  left: Checked<Ref>,
  right: Checked<Ref>,
): Checked<Ref> {
  const says = 'temperatures and sound levels can be compared, not calculated with; a difference is added in K';
  return shiftTemperature(checker, node.operator, left, right) ?? fault(checker, 'unit-clash', says, node);
}

/** Of whole numbers; throws where there is no such number. */
export const EXACT = {
  '+': CEL_RUNTIME.add,
  '-': CEL_RUNTIME.subtract,
  '*': CEL_RUNTIME.multiply,
  '/': CEL_RUNTIME.divide,
  '%': CEL_RUNTIME.remainder,
} as const;
/** Of other numbers. */
export const DECIMAL: Readonly<Record<Arithmetic, (left: number, right: number) => number>> = {
  '+': (left, right) => left + right,
  '-': (left, right) => left - right,
  '*': (left, right) => left * right,
  '/': (left, right) => left / right,
  '%': (left, right) => left % right,
};

/** The value of a part that reads nothing; `undefined` where it reads something or has none. */
function constantOf(part: Checked<unknown>): CelValue | undefined {
  if (part.k === 'const') return part.value;
  if (part.k !== 'arithmetic') return undefined;
  const [left, right] = [constantOf(part.left), constantOf(part.right)];
  if (typeof left !== 'number' || typeof right !== 'number') return undefined;
  return (part.whole ? EXACT : DECIMAL)[part.operator](left, right);
}

/** Tells the scope what is divided by: 0 itself, or a name for which somebody may give 0 one day. */
function noteDivisor<Ref>(checker: Checker<Ref>, node: Node & { op: 'arithmetic' }, divisor: Checked<Ref>): void {
  if (node.operator !== '/' && node.operator !== '%') return;
  const read = divisor.k === 'step' && divisor.args.length === 1 ? divisor.args[0] : divisor;
  if (read?.k === 'read') checker.scope.useDivisor?.(read.variable.ref);
  if (constantOf(divisor) === 0) checker.scope.useZeroDivisor?.(node.right.at);
}

/** `+ - * / %` on whole numbers, on decimals, and on quantities as far as their units allow. */
export function checkArithmetic<Ref>(checker: Checker<Ref>, node: Node & { op: 'arithmetic' }): Checked<Ref> {
  const left = checker.check(node.left);
  const given = checker.check(node.right);
  if (isFaulted(left, given)) return { k: 'const', value: false, type: { kind: 'error' } };
  if (!isNumeric(left.type) || !isNumeric(given.type)) return refuse(checker, node, left.type, given.type);
  if (isScaled(left.type) || isScaled(given.type)) return checkScaled(checker, node, left, given);
  const sameUnit = left.type.kind === 'quantity' && given.type.kind === 'quantity';
  const right = sameUnit && left.type.kind === 'quantity' ? inUnit(given, left.type.unit) : given;
  const type = right && resultOf(node.operator, left.type, right.type);
  if (right === undefined || type === undefined) return refuse(checker, node, left.type, given.type);
  noteDivisor(checker, node, right);
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
