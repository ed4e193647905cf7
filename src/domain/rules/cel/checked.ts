import type { Arithmetic, Comparison, Macro } from './ast.ts';
import type { CelType, CelValue, CelVariable } from './types.ts';

/** A pure step on known values; `undefined` when it has no answer (division by zero, overflow). */
export type Step = (...values: never[]) => CelValue | undefined;

/** The expression after checking: every name resolved, every unit conversion and rounding a step of its own. */
export type Checked<Ref> = { type: CelType } & (
  | { k: 'const'; value: CelValue }
  | { k: 'read'; variable: CelVariable<Ref> }
  | { k: 'at'; variable: CelVariable<Ref>; key: Checked<Ref> }
  | { k: 'present'; variable: CelVariable<Ref>; key?: Checked<Ref> }
  | { k: 'fold'; variable: CelVariable<Ref>; step: Step }
  | { k: 'loop'; id: number }
  | { k: 'macro'; macro: Macro; variable: CelVariable<Ref>; id: number; body: Checked<Ref> }
  | { k: 'compare'; operator: Comparison; left: Checked<Ref>; right: Checked<Ref> }
  | { k: 'arithmetic'; operator: Arithmetic; whole: boolean; left: Checked<Ref>; right: Checked<Ref> }
  | { k: 'and' | 'or'; left: Checked<Ref>; right: Checked<Ref> }
  | { k: 'not'; operand: Checked<Ref> }
  | { k: 'if'; test: Checked<Ref>; yes: Checked<Ref>; no: Checked<Ref> }
  | { k: 'list'; elements: Checked<Ref>[] }
  | { k: 'step'; step: Step; args: Checked<Ref>[] }
);
