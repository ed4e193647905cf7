import { bindPlace, type Judge, metFinding, notMetFinding, unanswerableFinding } from '../judge/build-finding.ts';
import { MetKeeper } from '../judge/reliability.ts';
import { placeOf } from '../cel/parse.ts';
import type { CelReader } from '../cel/generate.ts';
import type { CelValue } from '../cel/types.ts';
import { quantity } from '../model/finding.ts';
import { type ComparedParts, type CompiledPart, compileRuleExpression } from '../model/rule-scope.ts';
import type { RuleFault } from '../model/rule-fault.ts';
import { type Missing, RULE_READER, type Run } from '../judge/run.ts';
import type { ExpressionTest } from '../model/test-schema.ts';
import { guardImplausible } from './spread.ts';
import type { Binder, Kind, KindChecker } from './answer.ts';
import { distance, keepText } from './limit.ts';

// generated code hands the reader the run and the places it was bound with, whatever their type
const READER = RULE_READER as CelReader<unknown, unknown>;

/** A compiled part made ready to run at one position. */
export function bindPart(part: CompiledPart, binder: Binder): (run: Run) => CelValue | undefined {
  const places = part.variables.map((variable) => bindPlace(variable.ref, binder));
  const { run: evaluate } = part;
  return (run) => evaluate(READER, run, places);
}

const NO_RESULT: Missing = {
  says: 'The calculation of this rule has no result with these answers: it divides by zero, or the number is too large',
  inspectorOnly: false,
};

/** Runs a part again to note what was missing, or that nothing was and the calculation has no result. */
export function traceMissing(run: Run, evaluate: (run: Run) => unknown): Missing[] {
  const missing: Missing[] = [];
  run.missing = missing;
  try {
    evaluate(run);
  } finally {
    run.missing = undefined;
  }
  // Everything is there, so it is the calculation itself that has no result.
  if (missing.length === 0) missing.push(NO_RESULT);
  return missing;
}

const SIGNS = { '<': '<', '<=': '≤', '>': '>', '>=': '≥', '==': '=' } as const;
const HOLDS: Readonly<Record<ComparedParts['operator'], (value: number, limit: number) => boolean>> = {
  '<': (value, limit) => value < limit,
  '<=': (value, limit) => value <= limit,
  '>': (value, limit) => value > limit,
  '>=': (value, limit) => value >= limit,
  '==': (value, limit) => value === limit,
};

function bindCompared(parts: ComparedParts, binder: Binder): Judge {
  const { head } = binder;
  const { operator, unit, decimals } = parts;
  const answer = bindPart(parts.answer, binder);
  const limit = bindPart(parts.limit, binder);
  const isFloor = operator === '>' || operator === '>=';
  const both = (run: Run): void => {
    answer(run);
    limit(run);
  };
  const textOf = keepText(`${SIGNS[operator]} `, unit);
  const holds = HOLDS[operator];
  return (run) => {
    const value = answer(run);
    const bound = limit(run);
    if (typeof value !== 'number' || typeof bound !== 'number')
      return unanswerableFinding(head, run, traceMissing(run, both));
    const margin = isFloor ? distance(bound, value, decimals) : distance(value, bound, decimals);
    const measured = quantity(distance(0, value, decimals), unit);
    const shown = operator === '==' ? undefined : quantity(margin, unit);
    const make = holds(value, bound) ? metFinding : notMetFinding;
    return make(head, run, measured, textOf(bound), shown);
  };
}

const bind = (test: ExpressionTest, binder: Binder): Judge => guardImplausible(bindPlain(test, binder), binder);

function bindPlain(test: ExpressionTest, binder: Binder): Judge {
  const { head } = binder;
  const expression = binder.expression(test.expr);
  if (expression.compared !== undefined) return bindCompared(expression.compared, binder);
  const evaluate = bindPart(expression, binder);
  const keeper = new MetKeeper(head, undefined);
  return (run) => {
    const answer = evaluate(run);
    if (typeof answer !== 'boolean') return unanswerableFinding(head, run, traceMissing(run, evaluate));
    return answer ? keeper.met(run, undefined) : notMetFinding(head, run, undefined, undefined, undefined);
  };
}

const BY_ZERO = 'this is 0 whatever is answered, and nothing is divided by 0: the rule would never have a result';

/**
 * Notes the faults of an expression with their place in its text. A division by zero is a fault here only, not where an
 * expression is made ready to run: rules that were published with one go on, without a result.
 *
 * @param checker its `uses` are of this expression alone
 */
export function checkExpression(
  source: string,
  checker: KindChecker,
  note: (fault: Omit<RuleFault, 'pointer'>) => void,
): void {
  const compiled = compileRuleExpression(source, checker.ruleSet, checker.each, checker.uses);
  const faults = compiled.ok ? [] : compiled.faults;
  for (const { code, detail, offset } of faults) note({ code, detail, at: placeOf(source, offset) });
  for (const offset of checker.uses.zeroDivisors) {
    note({ code: 'divides-by-zero', detail: BY_ZERO, at: placeOf(source, offset) });
  }
}

/** A yes/no expression. */
export const EXPRESSION: Kind<ExpressionTest> = {
  check(test, checker) {
    checkExpression(test.expr, checker, ({ code, detail, at }) => checker.fault('/expr', code, detail, at));
  },
  bind,
};
