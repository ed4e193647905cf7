import { jsonPointer } from '../../json-pointer.ts';
import { convert, dimensionOf, parseUnit, roundTo, type Unit } from '../../quantity.ts';
import { toSteps } from '../kinds/dates.ts';
import { bindParameter, findOwnParameter, kindOf, unitOfParameter } from '../model/parameter-values.ts';
import type { RuleFault } from '../model/rule-fault.ts';
import type { Uses } from '../model/rule-scope.ts';
import type { Parameter, ParameterOverride, RuleSet } from '../model/rule-set.ts';

interface Bound {
  value: number;
  unit: Unit;
}

/** A limit as numbers, for whoever shows it in another unit. */
export interface LimitBounds {
  min?: Bound;
  max?: Bound;
  /** the bound itself is outside: more than, less than */
  exclusive?: true;
  /** the limit is on a difference between places: 5 °C of spread are 9 °F */
  spread?: true;
}

const NUMBER = String.raw`-?\d+(?:\.\d+)?(?:e[+-]?\d+)?`;
const ONE = new RegExp(`^(≥|>|≤|<|=|spread ≤) (${NUMBER})(.*)$`, 'u');
const RANGE = new RegExp(`^(${NUMBER})(.*) to (${NUMBER})(.*)$`, 'u');

/** The unit behind a number as `formatQuantity` writes it. */
function unitAfter(text: string): Unit | undefined {
  if (text === '') return '1';
  if (text === '°') return 'deg';
  if (text === '/32 in') return '1/32in';
  return text.startsWith(' ') ? parseUnit(text) : undefined;
}

function bound(number: string | undefined, unitText: string | undefined): Bound | undefined {
  const unit = unitAfter(unitText ?? '');
  const value = Number(number);
  return unit === undefined || !Number.isFinite(value) ? undefined : { value, unit };
}

/**
 * The numbers in the text of a limit (`≥ 4 mm`, `1 kPa to 5 kPa`, `spread ≤ 2 mm`). It reads texts, so that revisions
 * judged long ago have them too.
 *
 * @returns `undefined` for a limit that is no number in a unit: a list, a date, a count of photos
 */
export function boundsOf(limit: string | undefined): LimitBounds | undefined {
  if (limit === undefined) return undefined;
  const range = RANGE.exec(limit);
  if (range !== null) {
    const [min, max] = [bound(range[1], range[2]), bound(range[3], range[4])];
    return min === undefined || max === undefined ? undefined : { min, max };
  }
  const [, sign, number, unitText] = ONE.exec(limit) ?? [];
  const only = sign === undefined ? undefined : bound(number, unitText);
  if (only === undefined) return undefined;
  switch (sign) {
    case '≥':
      return { min: only };
    case '>':
      return { min: only, exclusive: true };
    case '<':
      return { max: only, exclusive: true };
    case '=':
      return { min: only, max: only };
    case 'spread ≤':
      return { max: only, spread: true };
    default:
      return { max: only };
  }
}

const DIVIDED_BY = 'a rule divides by this, and nothing is divided by 0';

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
    if (parameter.value === 0 && uses.divisors.has(name)) {
      faults.push({ pointer: `${pointer}/value`, code: 'divides-by-zero', detail: DIVIDED_BY });
    }
    const own = findOwnParameter(name);
    if (own !== undefined) faults.push(...ownFaults(parameter, own, pointer));
    else if (!uses.parameters.has(name)) {
      faults.push({ pointer, code: 'unused-parameter', detail: `no rule uses the parameter ${JSON.stringify(name)}` });
    }
    return faults;
  });
}

/** What the server reads by itself must be of the kind that it reads. */
function ownFaults(parameter: Parameter, own: Parameter, pointer: string): RuleFault[] {
  if (kindOf(parameter.value) !== kindOf(own.value)) {
    const detail = `this server reads it by itself and needs a ${kindOf(own.value)}`;
    return [{ pointer: `${pointer}/value`, code: 'type-clash', detail }];
  }
  const [given, wanted] = [unitOfParameter(parameter), unitOfParameter(own)];
  if (given === undefined || wanted === undefined || dimensionOf(given) === dimensionOf(wanted)) return [];
  const detail = `this server reads it by itself in ${own.unit ?? 'no unit'}, which this unit does not convert to`;
  return [{ pointer: `${pointer}/unit`, code: 'unit-clash', detail }];
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
  if (override.value === 0 && uses.divisors.has(name)) {
    return [{ pointer: `${pointer}/value`, code: 'divides-by-zero', detail: DIVIDED_BY }];
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

/** A value of an example that follows a parameter: `{"parameter": "padMinimum", "plus": -0.1}`. */
interface BoundValue {
  parameter: string;
  plus?: number;
}

const isRecord = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

function isBound(value: unknown): value is Record<string, unknown> & BoundValue {
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
  { parameter, plus = 0 }: BoundValue,
  ruleSet: RuleSet,
  overrides: Readonly<Record<string, ParameterOverride>>,
): unknown {
  const bound = bindParameter(ruleSet, overrides, parameter);
  if (typeof bound?.value !== 'number') return undefined;
  return { value: roundTo(bound.value + plus, DECIMALS), unit: bound.unit };
}
