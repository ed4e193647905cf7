import { isPlainDate } from '../../calendar.ts';
import { parseUnit, type Unit } from '../../quantity.ts';
import type { Parameter, ParameterOverride, ParameterValue, RuleSet } from './rule-set.ts';

export type ParameterKind = 'number' | 'text' | 'date' | 'yes-no' | 'list';

/** What kind of value a parameter holds; a text that is a plain date is a date. */
export function kindOf(value: ParameterValue): ParameterKind {
  if (typeof value === 'number') return 'number';
  if (typeof value === 'boolean') return 'yes-no';
  if (typeof value === 'string') return isPlainDate(value) ? 'date' : 'text';
  return 'list';
}

/** The unit of a parameter's number; `1` without one. `undefined`: not a unit we know. */
export function unitOfParameter(parameter: { unit?: string | undefined }): Unit | undefined {
  return parameter.unit === undefined ? '1' : parseUnit(parameter.unit);
}

export interface BoundParameter {
  value: ParameterValue;
  unit: Unit;
}

/**
 * The value a parameter has in a run group: the override, else the rule set's own. `undefined` when the override is
 * of another kind, so that what depends on it has no answer (`checkOverrides` refuses such an override earlier).
 */
export function bindParameter(
  ruleSet: RuleSet,
  overrides: Readonly<Record<string, ParameterOverride>>,
  name: string,
): BoundParameter | undefined {
  const declared: Parameter | undefined = Object.hasOwn(ruleSet.parameters, name)
    ? ruleSet.parameters[name]
    : undefined;
  if (declared === undefined) return undefined;
  const override = Object.hasOwn(overrides, name) ? overrides[name] : undefined;
  const value = override?.value ?? declared.value;
  const unit = unitOfParameter({ unit: override?.unit ?? declared.unit });
  if (unit === undefined || kindOf(value) !== kindOf(declared.value)) return undefined;
  if (typeof value === 'number' && !Number.isFinite(value)) return undefined;
  return { value, unit };
}
