import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { assertIfMatch, etagOf, stale } from '../../http/etag.ts';
import { nameFaults, notFound, ProblemError } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { checkRules, rulesAsText } from '../../records/rule-check.ts';
import type { CheckedRules } from '../../records/rule-check.task.ts';
import type { PublishedView, PublishRuleSet } from './schemas.ts';
import { findLatestVersion, findRuleSet, insertVersion, lockRuleSet } from './store.ts';

interface PublishRequest {
  ruleSetId: string;
  ifMatch: string | undefined;
  input: PublishRuleSet;
}

/**
 * Publishes the draft that the caller read as the next version. Publishing a draft that is published already makes no
 * second version of the same content.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `rule-set-not-acceptable`,
 *   `already-published` with the `version` that has this content, those of `checkRules`
 */
export async function publishRuleSet(deps: Deps, actor: Actor, request: PublishRequest): Promise<PublishedView> {
  const { ruleSetId } = request;
  const draft = await findRuleSet(deps.db.prisma, ruleSetId);
  if (draft === undefined) throw notFound('rule set');
  assertIfMatch(request.ifMatch, etagOf(draft.rev));
  // Before the transaction: it may run a thousand examples, and the rev below tells whether it still counts.
  const contentHash = assertPublishable(await checkRules(deps, actor, rulesAsText(draft)));
  const { document, rev } = draft;
  return inTransaction(deps.db.prisma, async (tx) => {
    const lockedRev = await lockRuleSet(tx, ruleSetId);
    if (lockedRev !== rev) throw stale(etagOf(lockedRev ?? rev));
    const latest = await findLatestVersion(tx, ruleSetId);
    if (latest?.contentHash === contentHash) throw alreadyPublished(latest.version);
    const version = (latest?.version ?? 0) + 1;
    const row = { ruleSetId, version, document, contentHash, publishedAt: deps.clock.now() };
    return insertVersion(tx, actor, { ...row, changelog: request.input.changelog });
  });
}

/** @returns the hash of what is published */
function assertPublishable({ check, read }: CheckedRules): string {
  if (check.ok && read !== undefined) return read.contentHash;
  throw new ProblemError('rule-set-not-acceptable', nameFaults(check.faults, check.moreFaults), {
    errors: check.faults,
    ...(check.moreFaults > 0 && { moreErrors: check.moreFaults }),
  });
}

function alreadyPublished(version: number): ProblemError {
  return new ProblemError('already-published', `Version ${version} has exactly this content.`, { version });
}
