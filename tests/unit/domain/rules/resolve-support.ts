import { checkRuleSet } from '../../../../src/domain/rules/check/check.ts';
import { EMPTY_OVERLAY, Overlay } from '../../../../src/domain/rules/overlay/overlay.ts';
import { type ResolvedRules, resolveRules } from '../../../../src/domain/rules/overlay/resolve.ts';
import type { RuleSet } from '../../../../src/domain/rules/model/rule-set.ts';
import { makeRule, makeRuleSet } from './rules-support.ts';

type Json = Record<string, unknown>;

export const parameter = (value: unknown, unit?: string): Json => ({
  value,
  meaning: 'What it limits',
  ...(unit !== undefined && { unit }),
});

/** A rule on pads with a named limit; a floor unless a test says otherwise. */
export const padRule = (more: Json = {}): Json =>
  makeRule({
    id: 'pads',
    items: ['pad.thickness'],
    test: { kind: 'limit', item: 'pad.thickness', atLeast: { parameter: 'padMinimum' } },
    floor: true,
    ...more,
  });

/** A rule set that passes the check; a fault in it is a fault of the test. */
export function makeBase(rules: Json[], parameters: Json, more: Json = {}): RuleSet {
  const checked = checkRuleSet(makeRuleSet({ rules, parameters, ...more }));
  if (!checked.ok) throw new Error(JSON.stringify(checked.faults));
  return checked.ruleSet;
}

export const overlay = (parts: Json): Overlay => Overlay.parse({ ...EMPTY_OVERLAY, ...parts });

/** Resolves with what a venue and what a run group changes. */
export const resolve = (base: RuleSet, venue: Json, group: Json = {}): ResolvedRules =>
  resolveRules(base, [
    { from: 'venue', overlay: overlay(venue) },
    { from: 'run-group', overlay: overlay(group) },
  ]);

/** `layer pointer code` of each fault. */
export const faultsOfLayers = (resolved: ResolvedRules): string[] =>
  resolved.ok ? [] : resolved.faults.map(({ from, pointer, code }) => `${from} ${pointer} ${code}`);

export function mustResolve(resolved: ResolvedRules): Extract<ResolvedRules, { ok: true }> {
  if (!resolved.ok) throw new Error(JSON.stringify(resolved.faults));
  return resolved;
}
