import { createHash } from 'node:crypto';
import { type CompiledRuleSet, compileRuleSet } from '../../domain/rules/judge/evaluate.ts';
import type { Origins } from '../../domain/rules/overlay/overlay.ts';
import { type LayerFault, resolveRules, type RuleLayer } from '../../domain/rules/overlay/resolve.ts';
import { RuleSet } from '../../domain/rules/model/rule-set.ts';
import { fitLayers, type NotApplied } from '../../domain/rules/trial/trial.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import { defineThreadTask } from '../../platform/threads/thread-task.ts';

/** Rules as they are sent into a thread: their JSON, and what names exactly these. */
export interface SentRules {
  key: string;
  document: string;
}

/** Of what a thread keeps compiled, the last that were used: batch after batch of one trial has the same few. */
const KEPT = 20;
const kept = new Map<string, CompiledRuleSet>();

/** Rules ready to judge, for a task; the same are read and compiled once. */
export function compiledFrom({ key, document }: SentRules): CompiledRuleSet {
  const compiled = kept.get(key) ?? compileRuleSet(RuleSet.parse(JSON.parse(document)));
  kept.delete(key);
  kept.set(key, compiled);
  const oldest = kept.keys().next().value;
  if (kept.size > KEPT && oldest !== undefined) kept.delete(oldest);
  return compiled;
}

/** What venue and run group make of a published version; `hash` names exactly the rules that come out. */
export type SentResolved =
  | { ok: true; hash: string; rules: SentRules; origins: Origins }
  | { ok: false; faults: LayerFault[] };

/** Puts a published version and what changes it together; see `resolveRules`. */
export const resolveRulesTask = defineThreadTask<
  { ruleSetId: string; ruleSetVersion: number; document: string; layers: readonly RuleLayer[] },
  SentResolved
>({
  name: 'rules.resolve',
  processorMs: 2000,
  clockMs: 20_000,
  run({ ruleSetId, ruleSetVersion, document, layers }) {
    const resolved = resolveRules(RuleSet.parse(JSON.parse(document)), layers);
    if (!resolved.ok) return resolved;
    const { ruleSet, origins } = resolved;
    const hash = canonicalHash({ ruleSetId, ruleSetVersion, document: ruleSet, origins });
    return { ok: true, hash, rules: { key: hash, document: JSON.stringify(ruleSet) }, origins };
  },
});

/** Rules as a run group would have them, as far as they can take what it changes; undefined where they cannot be read. */
export type SentFitted = { rules: SentRules; notApplied: readonly NotApplied[] } | undefined;

/** Puts what a venue and a run group change over rules that are tried; see `fitLayers`. */
export const fitRulesTask = defineThreadTask<{ document: string; layers: readonly RuleLayer[] }, SentFitted>({
  name: 'rules.fit',
  processorMs: 2000,
  clockMs: 20_000,
  run({ document, layers }) {
    const base = RuleSet.safeParse(JSON.parse(document));
    if (!base.success) return undefined;
    const { ruleSet, notApplied } = fitLayers(base.data, layers);
    const text = JSON.stringify(ruleSet);
    return { rules: { key: createHash('sha256').update(text).digest('base64'), document: text }, notApplied };
  },
});
