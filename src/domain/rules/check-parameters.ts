import { convert, dimensionOf, parseUnit } from '../quantity.ts';
import { jsonPointer } from '../json-pointer.ts';
import { toSteps } from './kinds/counts.ts';
import { kindOf, unitOfParameter } from './parameter-values.ts';
import type { RuleFault } from './rule-fault.ts';
import type { Uses } from './rule-scope.ts';
import type { Parameter, ParameterOverride, RuleSet } from './rule-set.ts';

/** What is wrong with the parameters themselves: a unit we do not know, a unit on what is not a number, unused. */
export function checkParameters(ruleSet: RuleSet, uses: Uses): RuleFault[] {
  return Object.entries(ruleSet.parameters).flatMap(([name, parameter]) => {
    const faults: RuleFault[] = [];
    const pointer = jsonPointer(['parameters', name]);
    if (parameter.unit !== undefined && parseUnit(parameter.unit) === undefined) {
      faults.push({
        pointer: `${pointer}/unit`,
        code: 'unknown-unit',
        detail: `${JSON.stringify(parameter.unit)} is not a known unit`,
      });
    }
    if (parameter.unit !== undefined && typeof parameter.value !== 'number') {
      faults.push({ pointer: `${pointer}/unit`, code: 'unit-clash', detail: 'only a number has a unit' });
    }
    if (!uses.parameters.has(name)) {
      faults.push({ pointer, code: 'unused-parameter', detail: `no rule uses the parameter ${JSON.stringify(name)}` });
    }
    return faults;
  });
}

/** Deeper than any rule is; a document of any depth must not exhaust the stack. */
const MENTION_DEPTH = 10;

/** Adds the parameters that a document mentions anywhere, `{"parameter": name}` or `params.name`, to a set. */
export function noteMentioned(raw: unknown, names: Set<string>, depth = 0): void {
  if (depth > MENTION_DEPTH) return;
  if (typeof raw === 'string') {
    for (const [, name] of raw.slice(0, 2000).matchAll(/params\s*\.\s*(\w+)/g)) names.add(name ?? '');
  } else if (typeof raw === 'object' && raw !== null) {
    for (const [key, value] of Object.entries(raw)) {
      if (key === 'parameter' && typeof value === 'string') names.add(value);
      noteMentioned(value, names, depth + 1);
    }
  }
}

function checkOverrideUnit(
  declared: Parameter,
  override: ParameterOverride,
  pointer: string,
  isDifference: boolean,
): RuleFault[] {
  if (override.unit === undefined) return [];
  const unit = parseUnit(override.unit);
  if (unit === undefined) {
    return [
      {
        pointer: `${pointer}/unit`,
        code: 'unknown-unit',
        detail: `${JSON.stringify(override.unit)} is not a known unit`,
      },
    ];
  }
  const own = unitOfParameter(declared);
  if (isDifference && unit !== 'K' && dimensionOf(unit) === 'temperature') {
    const detail = `a difference of temperatures is given in K, ${unit} would be a place on a scale`;
    return [{ pointer: `${pointer}/unit`, code: 'unit-clash', detail }];
  }
  if (typeof declared.value === 'number' && own !== undefined && convert(1, unit, own) !== undefined) return [];
  const detail =
    typeof declared.value === 'number'
      ? `${unit} does not convert to ${declared.unit ?? 'a plain number'}`
      : 'only a number has a unit';
  return [{ pointer: `${pointer}/unit`, code: 'unit-clash', detail }];
}

function checkOverrideOptions(name: string, override: ParameterOverride, pointer: string, uses: Uses): RuleFault[] {
  const { value } = override;
  const texts = typeof value === 'string' ? [value] : Array.isArray(value) ? value : [];
  return uses.options
    .filter((use) => use.parameter === name)
    .flatMap(({ options }) => texts.filter((text) => !options.includes(text)).map((text) => ({ text, options })))
    .map(({ text, options }) => ({
      pointer: `${pointer}/value`,
      code: 'unknown-option',
      detail: `${JSON.stringify(text)} is not an option; there are ${options.join(', ')}`,
    }));
}

function checkOverride(ruleSet: RuleSet, name: string, override: ParameterOverride, uses: Uses): RuleFault[] {
  const pointer = jsonPointer([name]);
  const declared = Object.hasOwn(ruleSet.parameters, name) ? ruleSet.parameters[name] : undefined;
  if (declared === undefined) {
    return [{ pointer, code: 'unknown-parameter', detail: `the rule set has no parameter ${JSON.stringify(name)}` }];
  }
  const kind = kindOf(declared.value);
  const isFinite = typeof override.value !== 'number' || Number.isFinite(override.value);
  if (kindOf(override.value) !== kind || !isFinite) {
    return [
      {
        pointer: `${pointer}/value`,
        code: 'type-clash',
        detail: `a ${kind} is needed, this is a ${kindOf(override.value)}`,
      },
    ];
  }
  const unitFaults = checkOverrideUnit(declared, override, pointer, uses.differences.has(name));
  if (unitFaults.length > 0) return unitFaults;
  const unit = unitOfParameter({ unit: override.unit ?? declared.unit });
  if (uses.steps.has(name) && toSteps(override.value, unit) === undefined) {
    return [{ pointer: `${pointer}/value`, code: 'type-clash', detail: 'a whole number is needed, not negative' }];
  }
  return checkOverrideOptions(name, override, pointer, uses);
}

/** What is wrong with a run group's overrides, given what the rules use; pointers are relative to the overrides. */
export function checkOverridesWith(
  ruleSet: RuleSet,
  overrides: Readonly<Record<string, ParameterOverride>>,
  uses: Uses,
): RuleFault[] {
  return Object.entries(overrides).flatMap(([name, override]) => checkOverride(ruleSet, name, override, uses));
}
