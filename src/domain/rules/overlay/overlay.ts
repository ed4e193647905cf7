import { z } from 'zod';
import { formatQuantity } from '../../quantity.ts';
import { EFFECTS } from '../model/finding.ts';
import { eachOf } from '../model/rule-each.ts';
import { ParameterName, ParameterOverride, Rule, RuleId, type RuleSet } from '../model/rule-set.ts';
import { unitOfParameter } from '../model/parameter-values.ts';
import { type Bound, boundsOf, compareBounds } from './loosening-bounds.ts';

/** Parts of tests that are compared by strictness; all other parts must be equal. */
const COMPARED: ReadonlySet<string> = new Set([
  'atLeast',
  'atMost',
  'from',
  'to',
  'values',
  'strict',
  'inclusive',
  'endOfYear',
  'addMonths',
  'addYears',
]);

/** What of a rule decides whom it judges and how, without what is compared by strictness. */
function frameOf(rule: Rule): string {
  const test = Object.entries(rule.test)
    .filter(([key, value]) => {
      const isStated = typeof value === 'object' && value !== null && 'vehicle' in value;
      return value !== undefined && (!COMPARED.has(key) || isStated);
    })
    .filter(([key]) => rule.test.kind !== 'photo' || key !== 'atLeast')
    .toSorted(([a], [b]) => (a < b ? -1 : 1));
  return JSON.stringify([rule.items.toSorted(), rule.when ?? null, eachOf(rule) ?? null, test]);
}

const keyOf = ({ place, parameter }: Bound): string =>
  place === '/when' || place === '/test/expr' ? `${place} ${parameter}` : place;

function limitsMayBeTighter(was: Rule, before: RuleSet, now: Rule, after: RuleSet): boolean {
  const earlier = new Map(boundsOf(was, before).map((bound) => [keyOf(bound), bound]));
  return boundsOf(now, after).some((bound) => {
    const one = earlier.get(keyOf(bound));
    const difference = one === undefined ? 'unclear' : compareBounds(one, bound);
    return difference === 'tighter' || difference === 'unclear';
  });
}

function mayJudgeMoreStrictly(was: Rule | undefined, before: RuleSet, now: Rule, after: RuleSet): boolean {
  if (was === undefined || was.watch === true) return true;
  if (EFFECTS.indexOf(now.effect) < EFFECTS.indexOf(was.effect)) return true;
  return frameOf(was) !== frameOf(now) || limitsMayBeTighter(was, before, now, after);
}

/**
 * The rules that may judge a car more strictly than before: new ones, and those of which not all that changed is
 * certain to be looser or the same (limits, lists, condition, effect, watch). Titles, messages, basis and what decides
 * about exceptions do not judge. A rule on watch judges nobody, so it is never among them.
 *
 * @param before the rules that judged so far, parameters as they applied
 * @param after the rules that judge from now on
 * @returns ids of rules of `after`
 */
export function tightenedOrAdded(before: RuleSet, after: RuleSet): Set<string> {
  const known = new Map(before.rules.map((rule) => [rule.id, rule]));
  const judging = after.rules.filter((rule) => rule.watch !== true);
  return new Set(
    judging.filter((rule) => mayJudgeMoreStrictly(known.get(rule.id), before, rule, after)).map(({ id }) => id),
  );
}

/** Another effect of a named rule, or its watch set or lifted; `reason` is shown wherever the change is. */
export const EffectChange = z
  .strictObject({
    effect: z.enum(EFFECTS).optional().describe('What the rule does here when it is not met'),
    watch: z.boolean().optional().describe('`true`: counted here, judges nobody; `false`: judges here'),
    reason: z.string().trim().min(1).max(300).describe('Why it is different here'),
  })
  .refine((change) => change.effect !== undefined || change.watch !== undefined, 'give effect or watch');
export type EffectChange = z.infer<typeof EffectChange>;

/** What a run group changes in its rule set besides parameters: effects of named rules, and rules of its own. */
export const GroupOverlay = z.strictObject({
  effects: z.record(RuleId, EffectChange).default({}).describe('Changed effects by rule id'),
  rules: z.array(Rule).max(200).default([]).describe('Further rules, judged after those of the rule set'),
});
export type GroupOverlay = z.infer<typeof GroupOverlay>;

/** What a venue changes in a rule set for all its events. */
export const Overlay = GroupOverlay.extend({
  parameters: z.record(ParameterName, ParameterOverride).default({}).describe('Limits that are different here'),
});
export type Overlay = z.infer<typeof Overlay>;

export const EMPTY_OVERLAY: Overlay = { parameters: {}, effects: {}, rules: [] };

/** Where a value or a rule of the resolved rules comes from. */
export const LAYERS = ['rule-set', 'venue', 'run-group'] as const;
export type Layer = (typeof LAYERS)[number];

/** Where each value of the resolved rules came from. What is not named is as the rule set has it. */
export interface Origins {
  /** parameters that a layer changed: which, and the value and unit of the rule set */
  parameters: Readonly<Record<string, { from: Layer; was: { value: ParameterOverride['value']; unit?: string } }>>;
  /** rules that a layer added or changed */
  rules: Readonly<Record<string, RuleOrigin>>;
}

export interface RuleOrigin {
  /** which layer the rule's text comes from */
  from: Layer;
  /** the last change of effect or watch, what it was in the rule set, and why */
  changed?: { by: Layer; reason: string; was: { effect: (typeof EFFECTS)[number]; watch: boolean } };
}

export const NO_CHANGES: Origins = { parameters: {}, rules: {} };

/** A change that loosens a rule marked floor, or may; `detail` names the rule and both values. */
export interface Loosening<K extends string> {
  /** the parameter, or the part of the change */
  what: K;
  detail: string;
}

const CALENDAR = ['day', 'month', 'year'];

/** A parameter's value as people read it: `4 mm`, `12 months`, `firm, soft`. */
function show(ruleSet: RuleSet, name: string): string {
  const parameter = ruleSet.parameters[name];
  if (parameter === undefined) return 'nothing';
  const { value } = parameter;
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (typeof value === 'string') return JSON.stringify(value);
  if (typeof value !== 'number') return value.length === 0 ? 'an empty list' : value.join(', ');
  const unit = unitOfParameter(parameter) ?? '1';
  return CALENDAR.includes(unit) ? `${value} ${unit}${value === 1 ? '' : 's'}` : formatQuantity(value, unit);
}

const floor = (rule: Rule): string =>
  `rule ${JSON.stringify(rule.id)} is a floor: it may be tightened here, not loosened`;

const WHY: Readonly<Record<string, string>> = {
  '/when': 'its condition reads the parameter',
  '/test/expr': 'its expression does more with the parameter than ask for more or less than it',
};

const VERBS: Partial<Record<Bound['looser'], string>> = { lower: 'lowering', higher: 'raising' };
const ACCEPTS: Partial<Record<Bound['looser'], string>> = { added: ': it accepts more', removed: ': it refuses less' };

function describeLoosening(rule: Rule, bound: Bound, name: string, values: string): string {
  const { looser, place } = bound;
  if (looser === 'unclear') {
    return `${floor(rule)}, and whether changing ${name} ${values} loosens it cannot be told: ${WHY[place] ?? place}`;
  }
  const how = place === '/when' ? ': it applies to fewer cars' : (ACCEPTS[looser] ?? '');
  return `${floor(rule)}, and ${VERBS[looser] ?? 'changing'} ${name} ${values} loosens it${how}`;
}

/**
 * How a change of parameters loosens a rule, or may: a limit that is easier to keep, a longer list of what is
 * accepted, a condition that holds for fewer cars. What cannot be told counts. Values in other units are compared
 * after conversion, as they are judged.
 *
 * @param before the rule set with the values so far
 * @param after the same rules with the values wanted
 * @returns one per parameter that loosens; none = everything changed tightens or leaves the rule as it is
 */
export function findLoosenedParameters(rule: Rule, before: RuleSet, after: RuleSet): Loosening<string>[] {
  const was = boundsOf(rule, before);
  const found = new Map<string, Loosening<string>>();
  for (const bound of boundsOf(rule, after)) {
    const { parameter: name, place } = bound;
    if (name === undefined || found.has(name)) continue;
    const earlier = was.find((one) => one.place === place && one.parameter === name);
    const difference = earlier === undefined ? 'unclear' : compareBounds(earlier, bound);
    if (difference === 'same' || difference === 'tighter') continue;
    const values = `from ${show(before, name)} to ${show(after, name)}`;
    found.set(name, { what: name, detail: describeLoosening(rule, bound, name, values) });
  }
  return [...found.values()];
}

/** How a change of effect loosens a rule: an effect that does less, or watch where it judges now. */
export function findLoosenedEffect(rule: Rule, change: EffectChange): Loosening<'effect' | 'watch'>[] {
  const found: Loosening<'effect' | 'watch'>[] = [];
  const { effect, watch } = change;
  if (effect !== undefined && EFFECTS.indexOf(effect) > EFFECTS.indexOf(rule.effect)) {
    found.push({ what: 'effect', detail: `${floor(rule)}, and ${effect} is less than ${rule.effect}` });
  }
  if (watch === true && rule.watch !== true) {
    found.push({ what: 'watch', detail: `${floor(rule)}, and on watch it would judge nobody` });
  }
  return found;
}
