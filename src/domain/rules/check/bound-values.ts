import { roundTo } from '../../quantity.ts';
import { bindParameter } from '../model/parameter-values.ts';
import type { ParameterOverride, RuleSet } from '../model/rule-set.ts';

/** A value of an example that follows a parameter: `{"parameter": "padMinimum", "plus": -0.1}`. */
interface Bound {
  parameter: string;
  plus?: number;
}

const isRecord = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

function isBound(value: unknown): value is Record<string, unknown> & Bound {
  return (
    isRecord(value) &&
    typeof value['parameter'] === 'string' &&
    (value['plus'] === undefined || Number.isFinite(value['plus'])) &&
    Object.keys(value).every((key) => key === 'parameter' || key === 'plus')
  );
}

/** Decimals that a sum keeps: enough for every item, and no noise of adding. */
const DECIMALS = 9;

/**
 * Answers of an example with the values that follow a parameter put in, so that changing a limit does not break the examples
 * around it: a number becomes the parameter's value, moved by `plus` in the parameter's unit. What names no number of the
 * rule set stays as it is, and is refused where the answers are read.
 *
 * @param overrides those of the example: they win, as in a run group
 */
export function bindValues(
  answers: Readonly<Record<string, unknown>>,
  ruleSet: RuleSet,
  overrides: Readonly<Record<string, ParameterOverride>> = {},
): Record<string, unknown> {
  const bind = (value: unknown): unknown => {
    if (isBound(value)) return bindOne(value, ruleSet, overrides) ?? value;
    if (!isRecord(value)) return value;
    return Object.fromEntries(Object.entries(value).map(([key, one]) => [key, bind(one)]));
  };
  return Object.fromEntries(Object.entries(answers).map(([key, value]) => [key, bind(value)]));
}

function bindOne(
  { parameter, plus = 0 }: Bound,
  ruleSet: RuleSet,
  overrides: Readonly<Record<string, ParameterOverride>>,
): unknown {
  const bound = bindParameter(ruleSet, overrides, parameter);
  if (typeof bound?.value !== 'number') return undefined;
  return { value: roundTo(bound.value + plus, DECIMALS), unit: bound.unit };
}
