import { checkRuleSet } from '../../domain/rules/check.ts';
import type { JsonObject } from '../../http/json-object.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import type { CheckView, RuleSetView } from './schemas.ts';
import type { StoredRuleSet } from './store.ts';

const KEPT = 20;
const checks = new Map<string, CheckView>();

/**
 * What the static check says of a document, without what it compiled. It depends on the document alone and runs every
 * example, which takes long enough to be felt at the gate, so the last results are kept.
 */
export function checkDocument(document: JsonObject, contentHash = canonicalHash(document)): CheckView {
  const known = checks.get(contentHash);
  if (known !== undefined) return known;
  const checked = checkRuleSet(document);
  const view: CheckView = checked.ok ? { ok: true, faults: [] } : { ok: false, faults: checked.faults };
  checks.set(contentHash, view);
  const oldest = checks.keys().next().value;
  if (checks.size > KEPT && oldest !== undefined) checks.delete(oldest);
  return view;
}

export function toRuleSetView({ rev: _rev, ...ruleSet }: StoredRuleSet): RuleSetView {
  return { ...ruleSet, check: checkDocument(ruleSet.document), createdAt: ruleSet.createdAt.toISOString() };
}
