import { convert } from '../../quantity.ts';
import { bindParameter } from './parameter-values.ts';
import type { Parameter, ParameterOverride, RuleSet } from './rule-set.ts';

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
  dailyRecheck: {
    value: [] as string[],
    meaning:
      'What an accepted car shows to the line again before its first session of each later day: tyres, nuts, fluids, pads, leaks, loose, or own words; empty: nothing',
    source: 'common practice, no source',
  },
} as const satisfies Readonly<Record<string, Parameter>>;

export type OwnParameter = keyof typeof OWN_PARAMETERS;

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
  name: 'torqueRecheck',
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
