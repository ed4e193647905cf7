import { findItem } from '../../catalogue/catalogue.ts';
import type { AnswerType } from '../../catalogue/item.ts';
import { convert, roundTo } from '../../quantity.ts';
import { checkAlwaysLook, checkRule } from '../check/check-rule.ts';
import { kindOf, type ParameterKind, unitOfParameter } from '../model/parameter-values.ts';
import { noUses, type Uses } from '../model/rule-scope.ts';
import type { Parameter, Rule, RuleSet } from '../model/rule-set.ts';

/** A rule that reads a limit. */
export interface LimitUse {
  ruleId: string;
  title: string;
  effect: Rule['effect'];
}

/** What a form needs to know of a limit besides its value. */
export interface LimitForm {
  kind: ParameterKind;
  /** all that a text or a list may hold; absent: any text */
  options?: readonly string[];
  /** it counts calendar steps: no fractions, not negative */
  wholeNumber: boolean;
  /**
   * Outside of this a value is asked back, never refused, in the unit of the limit. `item`: what such a reading plausibly is,
   * from the catalogue; `built-in`: half to double of the value of the rule set (common practice, no source).
   */
  plausible?: { from: number; to: number; basis: 'item' | 'built-in' };
  usedBy: readonly LimitUse[];
}

/** Of every limit of a rule set what a form for it needs, by name. Pure; compiles each rule once. */
export function limitForms(ruleSet: RuleSet): Map<string, LimitForm> {
  const usedBy = new Map<string, LimitUse[]>();
  const all = noUses();
  for (const rule of ruleSet.rules) {
    const uses = noUses();
    checkRule(rule, ruleSet, '', uses);
    const { id: ruleId, title, effect } = rule;
    for (const name of uses.parameters) usedBy.set(name, [...(usedBy.get(name) ?? []), { ruleId, title, effect }]);
    for (const step of uses.steps) all.steps.add(step);
    all.options.push(...uses.options);
  }
  checkAlwaysLook(ruleSet, all);
  return new Map(
    Object.entries(ruleSet.parameters).map(([name, parameter]) => [
      name,
      formOf(name, parameter, { ruleSet, uses: all, usedBy: usedBy.get(name) ?? [] }),
    ]),
  );
}

function formOf(
  name: string,
  parameter: Parameter,
  known: { ruleSet: RuleSet; uses: Uses; usedBy: readonly LimitUse[] },
): LimitForm {
  const { ruleSet, uses, usedBy } = known;
  const options = uses.options.filter((use) => use.parameter === name).map((use) => use.options);
  const [first] = options;
  const shared = first?.filter((option) => options.every((others) => others.includes(option)));
  const plausible = typeof parameter.value === 'number' ? plausibleOf(name, parameter, ruleSet) : undefined;
  return {
    kind: kindOf(parameter.value),
    ...(shared === undefined ? {} : { options: shared }),
    wholeNumber: uses.steps.has(name),
    ...(plausible === undefined ? {} : { plausible }),
    usedBy,
  };
}

const DECIMALS = 6;

function plausibleOf(name: string, parameter: Parameter, ruleSet: RuleSet): LimitForm['plausible'] {
  const { value } = parameter;
  if (typeof value !== 'number') return undefined;
  for (const rule of ruleSet.rules) {
    const found = readingOf(rule, name);
    const own = unitOfParameter(parameter);
    if (found?.plausible === undefined || own === undefined) continue;
    const [from, to] = found.plausible.map((end) => convert(end, found.unit, own));
    if (from === undefined || to === undefined) continue;
    return { from: roundTo(from, DECIMALS), to: roundTo(to, DECIMALS), basis: 'item' };
  }
  // A sign says which way a limit goes, and 0 says that there is none: neither has a double.
  return value > 0
    ? { from: roundTo(value / 2, DECIMALS), to: roundTo(value * 2, DECIMALS), basis: 'built-in' }
    : undefined;
}

/** The number that a rule holds against a limit as it was read, where it does. */
function readingOf({ test }: Rule, name: string): Extract<AnswerType, { kind: 'number' }> | undefined {
  if (test.kind !== 'limit' && test.kind !== 'range') return undefined;
  const ends = test.kind === 'limit' ? [test.atLeast, test.atMost] : [test.from, test.to];
  if (!ends.some((end) => end !== undefined && 'parameter' in end && end.parameter === name)) return undefined;
  if (test.field !== undefined) return undefined;
  const answer = findItem(test.item)?.answer;
  return answer?.kind === 'number' ? answer : undefined;
}
