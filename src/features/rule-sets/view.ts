import { wantsYaml, YAML } from '../../http/yaml-accept.ts';
import { checkDraft } from './check-draft.ts';
import type { RuleSetView, VersionView } from './schemas.ts';
import type { StoredRuleSet } from './store.ts';
import { toYaml } from './yaml-form.ts';

export async function toRuleSetView({ rev: _rev, text, ...ruleSet }: StoredRuleSet): Promise<RuleSetView> {
  const check = await checkDraft({ document: ruleSet.document, text });
  return { ...ruleSet, check, createdAt: ruleSet.createdAt.toISOString() };
}

interface Body {
  body: unknown;
  headers: Record<string, string>;
}

/** A draft as JSON with what the check says of it, or the document alone as YAML, as it was written. */
export async function draftBody(ruleSet: StoredRuleSet, accept: string | undefined): Promise<Body> {
  if (!wantsYaml(accept)) return { body: await toRuleSetView(ruleSet), headers: { vary: 'accept' } };
  return { body: ruleSet.text ?? toYaml(ruleSet.document), headers: { 'content-type': YAML, vary: 'accept' } };
}

/** A version as JSON with who published it, or the document alone as YAML. */
export function versionBody(version: VersionView, accept: string | undefined): Body {
  if (!wantsYaml(accept)) return { body: version, headers: { vary: 'accept' } };
  return { body: toYaml(version.document), headers: { 'content-type': YAML, vary: 'accept' } };
}
