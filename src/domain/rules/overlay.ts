import { z } from 'zod';
import { EFFECTS } from './finding.ts';
import { ParameterName, ParameterOverride, Rule, RuleId } from './rule-set.ts';

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
