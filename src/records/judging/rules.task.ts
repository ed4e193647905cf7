import { createHash } from 'node:crypto';
import { checkRuleSet } from '../../domain/rules/check/check.ts';
import { type CompiledRuleSet, compileRuleSet } from '../../domain/rules/judge/evaluate.ts';
import type { RuleFault, RuleWarning } from '../../domain/rules/model/rule-fault.ts';
import { RuleSet } from '../../domain/rules/model/rule-set.ts';
import type { Origins } from '../../domain/rules/overlay/overlay.ts';
import { type LayerFault, resolveRules, type RuleLayer } from '../../domain/rules/overlay/resolve.ts';
import { fitLayers, type NotApplied } from '../../domain/rules/trial/trial.ts';
import { listFaults } from '../../http/frame/common-schemas.ts';
import { readYaml, type YamlRead } from '../../http/yaml/yaml-read.ts';
import type { YamlFault, YamlPlace } from '../../http/yaml/yaml-value.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import { defineThreadTask } from '../../platform/threads/thread.ts';

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
type SentResolved =
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
type SentFitted = { rules: SentRules; notApplied: readonly NotApplied[] } | undefined;

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

/** A rule set as text. */
export type RuleText = { json: string } | { yaml: string };

/** What the static check says; of very many faults the first, and how many more there are. */
export interface RuleCheck {
  ok: boolean;
  faults: (RuleFault & { place?: YamlPlace })[];
  moreFaults: number;
  warnings: (RuleWarning & { place?: YamlPlace })[];
  moreWarnings: number;
}

/** A rule set that was read and checked. */
export interface CheckedRules {
  check: RuleCheck;
  /** absent: the text could not be read, and `check` says why */
  read?: {
    /** as JSON */
    document: string;
    /** SHA-256 (hex) of its canonical form (RFC 8785) */
    contentHash: string;
    /** where the document begins and where its name stands, in a text that is YAML */
    places?: { document: YamlPlace; name: YamlPlace };
  };
}

type Source = Extract<YamlRead, { ok: true }>['source'];

/** Reads a rule set and checks it: what a stranger can make long, so it never runs where requests are answered. */
export const ruleCheckTask = defineThreadTask<RuleText, CheckedRules>({
  name: 'rule-set.check',
  processorMs: 2000,
  clockMs: 20_000,
  run(text) {
    if ('json' in text) return checkDocument(JSON.parse(text.json));
    const read = readYaml(text.yaml);
    return read.ok ? checkDocument(read.value, read.source) : { check: unread(read.faults) };
  },
});

function unread(found: readonly YamlFault[]): RuleCheck {
  const { listed, more } = listFaults(found);
  return { ok: false, faults: listed, moreFaults: more, warnings: [], moreWarnings: 0 };
}

function checkDocument(document: unknown, source?: Source): CheckedRules {
  const checked = checkRuleSet(document);
  const list = <T extends { pointer: string; detail: string; at?: { offset: number } }>(found: readonly T[]) => {
    const { listed, more } = listFaults(found);
    if (source === undefined) return { listed, more };
    // Placed by the whole pointer: the one in the list may be cut.
    const place = (one: T, at: number) => source.placeOf(found[at]?.pointer ?? one.pointer, one.at?.offset);
    return { listed: listed.map((one, at) => ({ ...one, place: place(one, at) })), more };
  };
  const faults = list(checked.ok ? [] : checked.faults);
  const warnings = list(checked.warnings);
  return {
    check: {
      ok: checked.ok,
      faults: faults.listed,
      moreFaults: faults.more,
      warnings: warnings.listed,
      moreWarnings: warnings.more,
    },
    read: {
      document: JSON.stringify(document),
      contentHash: canonicalHash(document),
      ...(source && { places: { document: source.placeOf(''), name: source.placeOf('/name') } }),
    },
  };
}
