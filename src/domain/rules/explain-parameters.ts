import type { JudgeInput } from './judge-input.ts';
import { expressionOf } from './explain-binder.ts';
import type { Binder } from './kinds/kind.ts';
import type { Layer, Origins } from './overlay.ts';
import type { ParameterValue, Rule } from './rule-set.ts';

/** A named limit as it held in a judgement, and where its value came from. */
export interface ExplainedParameter {
  name: string;
  /** absent: it has no usable value */
  value?: ParameterValue;
  unit?: string;
  meaning: string;
  source?: string;
  from: Layer;
  /** what the rule set says, where a venue or run group changed it */
  was?: { value: ParameterValue; unit?: string };
}

/** Names of the parameters that a rule's test and condition read, each once. */
export function parameterNames(rule: Rule, binder: Binder): string[] {
  const names = new Set<string>();
  for (const source of [rule.when, rule.test.kind === 'expression' ? rule.test.expr : undefined]) {
    const expression = source === undefined ? undefined : expressionOf(binder, source);
    for (const { ref } of expression?.variables ?? []) if (ref.from === 'parameter') names.add(ref.name);
  }
  for (const part of Object.values(rule.test)) {
    const name = namedIn(part);
    if (name !== undefined) names.add(name);
  }
  return [...names];
}

function namedIn(part: unknown): string | undefined {
  const isNamed = typeof part === 'object' && part !== null && 'parameter' in part;
  return isNamed && typeof part.parameter === 'string' ? part.parameter : undefined;
}

/** The parameters of a rule with their values, meanings and origins. */
export function explainParameters(
  names: readonly string[],
  binder: Binder,
  input: JudgeInput,
  origins: Origins,
): ExplainedParameter[] {
  return names.flatMap((name) => {
    const { parameters } = binder.ruleSet;
    const declared = Object.hasOwn(parameters, name) ? parameters[name] : undefined;
    if (declared === undefined) return [];
    const bound = binder.parameter(name);
    const unit = bound === undefined || bound.unit === '1' ? undefined : bound.unit;
    return [
      {
        name,
        ...(bound !== undefined && { value: bound.value }),
        ...(unit !== undefined && { unit }),
        meaning: declared.meaning,
        ...(declared.source !== undefined && { source: declared.source }),
        ...originOf(name, declared, input, origins),
      },
    ];
  });
}

function originOf(
  name: string,
  declared: { value: ParameterValue; unit?: string | undefined },
  input: JudgeInput,
  origins: Origins,
): Pick<ExplainedParameter, 'from' | 'was'> {
  const changed = Object.hasOwn(origins.parameters, name) ? origins.parameters[name] : undefined;
  if (changed !== undefined) return { from: changed.from, was: changed.was };
  // judged by a version with a run group's parameters over it, as before overlays
  if (!Object.hasOwn(input.parameters, name)) return { from: 'rule-set' };
  return {
    from: 'run-group',
    was: { value: declared.value, ...(declared.unit !== undefined && { unit: declared.unit }) },
  };
}
