import type { PositionScheme } from '../catalogue/item.ts';
import type { Unit } from '../quantity.ts';
import type { Comparison } from './cel/ast.ts';
import type { CelFault } from './cel/cel-fault.ts';
import { compileCel } from './cel/compile.ts';
import type { Checked } from './cel/checked.ts';
import { type CelFunction, generate } from './cel/generate.ts';
import { type CelVariable, isNumeric } from './cel/types.ts';
import type { RuleSet } from './rule-set.ts';
import { type RuleRef, ruleScope, type Uses } from './rule-scope.ts';

export interface CompiledPart {
  variables: readonly CelVariable<RuleRef>[];
  run: CelFunction<unknown, unknown>;
}

/** A comparison of an answer with a limit, so that a finding can show both; `operator` reads answer first. */
export interface ComparedParts {
  answer: CompiledPart;
  limit: CompiledPart;
  operator: Exclude<Comparison, '!='>;
  unit: Unit;
  decimals: number;
}

/** A yes/no expression of a rule, compiled. */
export interface RuleExpression extends CompiledPart {
  compared?: ComparedParts;
}

const MIRRORED = { '<': '>', '<=': '>=', '>': '<', '>=': '<=', '==': '==' } as const;
/** shown where an expression works with numbers that no item gives decimals to */
const OTHER_DECIMALS = 6;

const readsAnswer = (part: CompiledPart): boolean => part.variables.some((variable) => variable.ref.from === 'answer');

function findCompared(checked: Checked<RuleRef>): ComparedParts | undefined {
  if (checked.k !== 'compare' || checked.operator === '!=' || !isNumeric(checked.left.type)) return undefined;
  // texts are ordered by a step whose result is a whole number: there is nothing to show of it
  if (checked.left.k === 'step' && checked.left.type.kind === 'int') return undefined;
  const left = generate(checked.left);
  const right = generate(checked.right);
  const { type } = checked.left;
  const unit = type.kind === 'quantity' ? type.unit : '1';
  const decimals = (type.kind === 'quantity' || type.kind === 'double' ? type.decimals : undefined) ?? OTHER_DECIMALS;
  const { operator } = checked;
  if (readsAnswer(left)) return { answer: left, limit: right, operator, unit, decimals };
  return readsAnswer(right) ? { answer: right, limit: left, operator: MIRRORED[operator], unit, decimals } : undefined;
}

/** Compiles an expression of a rule that runs over `each`; `uses` is told what it reads. */
export function compileRuleExpression(
  source: string,
  ruleSet: RuleSet,
  each: PositionScheme | undefined,
  uses: Uses,
): { ok: true; expression: RuleExpression } | { ok: false; faults: CelFault[] } {
  const compiled = compileCel(source, ruleScope(ruleSet, each, uses), 'bool');
  if (!compiled.ok) return compiled;
  const { variables, run, checked } = compiled.expression;
  const compared = findCompared(checked);
  return { ok: true, expression: { variables, run, ...(compared !== undefined && { compared }) } };
}
