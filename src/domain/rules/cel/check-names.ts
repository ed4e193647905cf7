import type { CelFault, Node } from './parse.ts';
import { type CelScope, type CelType, type CelVariable, type Checked, describeType } from './types.ts';

type Place<Ref> = { variable: CelVariable<Ref>; key?: Checked<Ref> };

const constant = <Ref>(value: string): Checked<Ref> => ({ k: 'const', value, type: { kind: 'string' } });

const UNKNOWN_CODES = { name: 'unknown-name', parameter: 'unknown-parameter', item: 'unknown-item' } as const;

/** Goes one step into a place: a part of a record, or a position of a map. */
function step<Ref>(checker: Checker<Ref>, place: Place<Ref>, name: string, node: Node): Place<Ref> | undefined {
  const { type } = place.variable;
  if (type.kind === 'map' && place.key === undefined && type.keys.includes(name)) {
    return { variable: place.variable, key: constant(name) };
  }
  const inner = type.kind === 'map' && place.key !== undefined ? type.of : type;
  if (inner.kind === 'record' && place.variable.field !== undefined) {
    const variable = place.variable.field(name);
    if (variable !== undefined) return { ...place, variable };
  }
  const code = inner.kind === 'record' ? 'unknown-field' : type.kind === 'map' ? 'unknown-position' : 'unknown-name';
  fault(checker, code, `there is no ${JSON.stringify(name)} in ${describeType(inner)}`, node);
  return undefined;
}

function findPath<Ref>(checker: Checker<Ref>, path: readonly string[], node: Node): Place<Ref> | undefined {
  const found = checker.scope.find(path);
  if ('fault' in found) {
    fault(checker, UNKNOWN_CODES[found.unknown], found.fault, node);
    return undefined;
  }
  let place: Place<Ref> | undefined = { variable: found.variable };
  for (const name of path.slice(found.taken)) place = place && step(checker, place, name, node);
  return place;
}

function indexPlace<Ref>(checker: Checker<Ref>, node: Node & { op: 'index' }): Place<Ref> | undefined {
  const place = findPlace(checker, node.operand);
  if (place === undefined) return undefined;
  const { type } = place.variable;
  const key = checker.check(node.key);
  if (isFaulted(key)) return undefined;
  if (type.kind !== 'map' || place.key !== undefined) {
    fault(checker, 'unknown-position', `${describeType(type)} has no positions`, node);
    return undefined;
  }
  if (key.type.kind !== 'string') {
    fault(checker, 'type-clash', `a position is a text, this is ${describeType(key.type)}`, node.key);
    return undefined;
  }
  const wrong = (key.type.options ?? []).find((option) => !type.keys.includes(option));
  if (wrong !== undefined) {
    fault(
      checker,
      'unknown-position',
      `there is no position ${JSON.stringify(wrong)}; there are ${type.keys.join(', ')}`,
      node.key,
    );
    return undefined;
  }
  return { variable: place.variable, key };
}

/**
 * The place a name, a selection or an index means. Faults are noted; `undefined` then.
 */
export function findPlace<Ref>(checker: Checker<Ref>, node: Node): Place<Ref> | undefined {
  switch (node.op) {
    case 'name':
      return findPath(checker, node.path, node);
    case 'index':
      return indexPlace(checker, node);
    case 'select': {
      const place = findPlace(checker, node.operand);
      return place && step(checker, place, node.field, node);
    }
    default:
      fault(checker, 'type-clash', 'only a name has parts and positions', node);
      return undefined;
  }
}

/** Reads a place; a whole map or record is allowed here and refused where a single value is needed. */
export function checkPlace<Ref>(checker: Checker<Ref>, node: Node): Checked<Ref> {
  const { loop } = checker;
  if (node.op === 'name' && node.path.length === 1 && loop?.name === node.path[0] && loop !== undefined) {
    return { k: 'loop', id: loop.id, type: loop.type };
  }
  const place = findPlace(checker, node);
  if (place === undefined) return { k: 'const', value: false, type: { kind: 'error' } };
  const { variable, key } = place;
  if (key === undefined) return { k: 'read', variable, type: variable.type };
  const type = variable.type.kind === 'map' ? variable.type.of : variable.type;
  return { k: 'at', variable, key, type };
}

/** `has(x)`: whether it is answered. A map has one answer per position, so that has() of it would not say which. */
export function checkHas<Ref>(checker: Checker<Ref>, node: Node & { op: 'has' }): Checked<Ref> {
  const place = findPlace(checker, node.operand);
  if (place === undefined) return { k: 'const', value: false, type: { kind: 'error' } };
  const { variable, key } = place;
  const type = key !== undefined && variable.type.kind === 'map' ? variable.type.of : variable.type;
  if (type.kind === 'map') {
    return fault(checker, 'type-clash', 'has() of one value per position: ask for one, "FL" in x', node);
  }
  if (type.kind === 'record') {
    return fault(checker, 'type-clash', `has() of an answer with parts: name one of ${type.fields.join(', ')}`, node);
  }
  return { k: 'present', variable, type: { kind: 'bool' }, ...(key !== undefined && { key }) };
}

/** What the parts of the type checker share while they walk one expression. */
export interface Checker<Ref> {
  scope: CelScope<Ref>;
  faults: CelFault[];
  /** the variable of the comprehension we are inside of; they never nest */
  loop: { name: string; id: number; type: CelType } | undefined;
  loops: number;
  check(node: Node): Checked<Ref>;
}

/** Stands for a part that is faulted already, so that one mistake is told once. */
export const FAULTED = { k: 'const', value: false, type: { kind: 'error' } } as const satisfies Checked<never>;

/** Notes a fault and goes on: every fault of an expression is named, not the first only. */
export function fault<Ref>(checker: Checker<Ref>, code: CelFault['code'], detail: string, node: Node): Checked<Ref> {
  checker.faults.push({ code, detail, offset: node.at });
  return FAULTED;
}

export const isFaulted = (...parts: Checked<unknown>[]): boolean => parts.some((part) => part.type.kind === 'error');

/** The part if it is a yes/no, else a fault that says what it is instead. */
export function expectBool<Ref>(checker: Checker<Ref>, node: Node): Checked<Ref> {
  const part = checker.check(node);
  if (part.type.kind === 'bool' || isFaulted(part)) return part;
  return fault(checker, 'type-clash', `a yes/no is needed here, this is ${describeType(part.type)}`, node);
}
