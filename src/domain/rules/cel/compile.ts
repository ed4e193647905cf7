import type { CelFault } from './cel-fault.ts';
import { checkTypes } from './check-types.ts';
import type { Checked } from './checked.ts';
import { type CelFunction, generate } from './generate.ts';
import { parseCel } from './parse.ts';
import { type CelScope, type CelVariable, describeType } from './types.ts';

/** A checked expression as a function; `variables` are the names it reads, in the order of its places. */
export interface CelExpression<Ref> {
  variables: readonly CelVariable<Ref>[];
  run: CelFunction<unknown, unknown>;
  checked: Checked<Ref>;
}

/**
 * Reads, checks and compiles an expression. Nothing of it is run.
 *
 * @param want `bool` refuses an expression that does not answer yes or no; `any` takes every single value
 * @returns the compiled expression, or every fault that was found with its offset
 */
export function compileCel<Ref>(
  source: string,
  scope: CelScope<Ref>,
  want: 'bool' | 'any',
): { ok: true; expression: CelExpression<Ref> } | { ok: false; faults: CelFault[] } {
  const parsed = parseCel(source);
  if (!parsed.ok) return { ok: false, faults: [parsed.fault] };
  const typed = checkTypes(parsed.node, scope);
  if (!typed.ok) return typed;
  const { checked } = typed;
  if (want === 'bool' && checked.type.kind !== 'bool') {
    const detail = `the expression must answer yes or no, this is ${describeType(checked.type)}`;
    return { ok: false, faults: [{ code: 'type-clash', detail, offset: 0 }] };
  }
  return { ok: true, expression: { ...generate(checked), checked } };
}
