import type { PositionScheme } from '../../catalogue/item.ts';
import type { Unit } from '../../quantity.ts';
import type { CelFault, Comparison } from '../cel/ast.ts';
import { type CelFunction, compileCel, generate } from '../cel/generate.ts';
import { type CelType, type CelVariable, type Checked, isNumeric } from '../cel/types.ts';
import { type RuleRef, ruleScope, type Uses } from './rule-scope.ts';
import type { RuleSet } from './rule-set.ts';

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

/** What a part says of the car: its answers, else what was derived from them, else nothing. */
function saysOfCar(part: CompiledPart): number {
  const from = new Set(part.variables.map((variable) => variable.ref.from));
  return from.has('answer') ? 2 : from.has('fact') ? 1 : 0;
}

/** How a number of this type is shown: its unit, and the decimals it is kept with. */
function shownAs(type: CelType): { unit: Unit; decimals: number } {
  if (type.kind === 'quantity') return { unit: type.unit, decimals: type.decimals ?? OTHER_DECIMALS };
  return { unit: '1', decimals: (type.kind === 'double' ? type.decimals : undefined) ?? OTHER_DECIMALS };
}

function findCompared(checked: Checked<RuleRef>): ComparedParts | undefined {
  if (checked.k !== 'compare' || checked.operator === '!=' || !isNumeric(checked.left.type)) return undefined;
  // texts are ordered by a step whose result is a whole number: there is nothing to show of it
  if (checked.left.k === 'step' && checked.left.type.kind === 'int') return undefined;
  const left = generate(checked.left);
  const right = generate(checked.right);
  const { unit, decimals } = shownAs(checked.left.type);
  const { operator } = checked;
  const [one, other] = [saysOfCar(left), saysOfCar(right)];
  if (one === 0 && other === 0) return undefined;
  if (one >= other) return { answer: left, limit: right, operator, unit, decimals };
  return { answer: right, limit: left, operator: MIRRORED[operator], unit, decimals };
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
