import { z } from 'zod';
import { EFFECTS } from '../model/finding.ts';
import { type Bound, boundsOf, compareBounds } from './loosening-bounds.ts';
import { eachOf } from '../model/rule-each.ts';
import { ParameterName, ParameterOverride, Rule, RuleId, type RuleSet } from '../model/rule-set.ts';

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
