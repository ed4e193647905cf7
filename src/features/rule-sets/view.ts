import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { ProblemError } from '../../http/problem.ts';
import { wantsYaml, YAML } from '../../http/yaml-accept.ts';
import { checkRules, rulesAsText } from '../../records/rule-check.ts';
import type { CheckView, RuleSetView, VersionView } from './schemas.ts';
import type { StoredRuleSet } from './store.ts';
import { toYaml } from './yaml-form.ts';

export type CheckedRuleSet = StoredRuleSet & { check: CheckView };

export function toRuleSetView({ rev: _rev, text: _text, createdAt, ...ruleSet }: CheckedRuleSet): RuleSetView {
  return { ...ruleSet, createdAt: createdAt.toISOString() };
}

/** What the check says of a draft that is stored. One that takes too long to check can be read all the same. */
async function checkStored(deps: Deps, actor: Actor, ruleSet: StoredRuleSet): Promise<CheckView> {
  try {
    return (await checkRules(deps, actor, rulesAsText(ruleSet))).check;
  } catch (error) {
    if (!(error instanceof ProblemError) || error.slug !== 'too-heavy') throw error;
    const fault = { pointer: '', code: error.slug, detail: error.message };
    return { ok: false, faults: [fault], moreFaults: 0, warnings: [], moreWarnings: 0 };
  }
}

interface Body {
  body: unknown;
  headers: Record<string, string>;
}

/** A draft as JSON with what the check says of it, or the document alone as YAML, as it was written. */
export async function draftBody(
  deps: Deps,
  actor: Actor,
  ruleSet: StoredRuleSet,
  accept: string | undefined,
): Promise<Body> {
  if (!wantsYaml(accept)) {
    const check = await checkStored(deps, actor, ruleSet);
    return { body: toRuleSetView({ ...ruleSet, check }), headers: { vary: 'accept' } };
  }
  return { body: ruleSet.text ?? toYaml(ruleSet.document), headers: { 'content-type': YAML, vary: 'accept' } };
}

/** A version as JSON with who published it, or the document alone as YAML. */
export function versionBody(version: VersionView, accept: string | undefined): Body {
  if (!wantsYaml(accept)) return { body: version, headers: { vary: 'accept' } };
  return { body: toYaml(version.document), headers: { 'content-type': YAML, vary: 'accept' } };
}
