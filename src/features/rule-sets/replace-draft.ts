import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { assertIfMatch, etagOf, stale } from '../../http/etag.ts';
import { notFound } from '../../http/problem.ts';
import { readDraft } from './read-draft.ts';
import type { ReplaceDraft } from './schemas.ts';
import { findRuleSet, updateDraft } from './store.ts';
import type { CheckedRuleSet } from './view.ts';

/**
 * Replaces the draft, starting from the version the caller read. Published versions do not change.
 *
 * @param input JSON, or the text of a YAML document, which is kept as it is written
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `malformed-yaml`, `invalid-request`,
 *   those of `checkRules`
 */
export async function replaceDraft(
  deps: Deps,
  actor: Actor,
  { ruleSetId, ifMatch }: { ruleSetId: string; ifMatch: string | undefined },
  input: ReplaceDraft | string,
): Promise<CheckedRuleSet> {
  const current = await findRuleSet(deps.db.prisma, ruleSetId);
  if (current === undefined) throw notFound('rule set');
  assertIfMatch(ifMatch, etagOf(current.rev));
  const { draft, check } = await readDraft(deps, actor, input);
  const updated = await updateDraft(deps.db.prisma, ruleSetId, current.rev, draft);
  if (updated !== undefined) return { ...updated, check };
  const winner = await findRuleSet(deps.db.prisma, ruleSetId);
  throw stale(etagOf(winner?.rev ?? current.rev));
}
