import { isPlainDate } from '../../calendar.ts';
import { convert, parseUnit, type Unit } from '../../quantity.ts';
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

/**
 * Parameters that the server reads by itself, beside those that rules read: a rule set may have them without a rule that
 * uses them, of this kind and in a unit that converts to this one. Where it has none the value here counts.
 */
export const OWN_PARAMETERS = {
  wetTreadMinimum: {
    value: 3,
    unit: 'mm',
    meaning: 'Least groove at every place of every tyre while the track is wet for a run group',
    source: 'common practice, no source',
  },
  torqueRecheck: {
    value: false,
    meaning: 'Whether an accepted car checks its wheel torque again after its first session, wheels cooled (yes)',
    source: 'common practice, no source',
  },
  workshopSheet: {
    value: false,
    meaning:
      'Whether a photo of the filled workshop sheet may stand for the answers about the underside; the line then looks at each of these points (yes)',
    source: 'common practice, no source',
  },
  dailyRecheck: {
    value: [] as string[],
    meaning:
      'What an accepted car shows to the line again before its first session of each later day: tyres, nuts, fluids, pads, leaks, loose, or own words; empty: nothing',
    source: 'common practice, no source',
  },
} as const satisfies Readonly<Record<string, Parameter>>;

type OwnParameter = keyof typeof OWN_PARAMETERS;

export const findOwnParameter = (name: string): Parameter | undefined =>
  Object.hasOwn(OWN_PARAMETERS, name) ? OWN_PARAMETERS[name as OwnParameter] : undefined;

/**
 * The number that a parameter of the server's own has under these rules, in the unit it has here; undefined where the
 * rules have it in a way that is none, so that what depends on it is not known.
 */
export function ownNumber(
  ruleSet: RuleSet,
  overrides: Readonly<Record<string, ParameterOverride>>,
  name: 'wetTreadMinimum',
): number | undefined {
  const own = OWN_PARAMETERS[name];
  if (!Object.hasOwn(ruleSet.parameters, name)) return own.value;
  const bound = bindParameter(ruleSet, overrides, name);
  if (typeof bound?.value !== 'number') return undefined;
  return convert(bound.value, bound.unit, own.unit);
}

/** The same for a switch; one that cannot be read counts as it stands here. */
export function ownSwitch(
  ruleSet: RuleSet,
  overrides: Readonly<Record<string, ParameterOverride>>,
  name: 'torqueRecheck' | 'workshopSheet',
): boolean {
  const value = bindParameter(ruleSet, overrides, name)?.value;
  return typeof value === 'boolean' ? value : OWN_PARAMETERS[name].value;
}

/** The same for a list; one that cannot be read counts as it stands here. */
export function ownList(
  ruleSet: RuleSet,
  overrides: Readonly<Record<string, ParameterOverride>>,
  name: 'dailyRecheck',
): readonly string[] {
  const value = bindParameter(ruleSet, overrides, name)?.value;
  return Array.isArray(value) ? value : OWN_PARAMETERS[name].value;
}
