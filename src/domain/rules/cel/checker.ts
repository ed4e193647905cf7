import type { CelFault, Node } from './ast.ts';
import { type CelScope, type CelType, type Checked, describeType } from './types.ts';

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
