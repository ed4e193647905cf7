import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { assertIfMatch, etagOf, stale } from '../../http/frame/etag.ts';
import { nameFaults, notFound, ProblemError } from '../../http/frame/problem.ts';
import { wantsYaml, YAML } from '../../http/yaml/yaml-source.ts';
import { isUniqueViolation } from '../../platform/database/db-errors.ts';
import { inTransaction } from '../../platform/database/db.ts';
import type { CheckedRules } from '../../records/judging/rules.task.ts';
import { checkRules, rulesAsText } from '../../records/judging/rules.ts';
import { toYaml } from './draft.ts';
import type { CheckView, PublishedView, PublishRuleSet, RuleSetView, VersionView } from './rule-set-schemas.ts';
import {
  findLatestVersion,
  findRuleSet,
  findVersion,
  insertRetirement,
  insertVersion,
  listVersions,
  lockRuleSet,
  type StoredRuleSet,
} from './rule-set-store.ts';

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
export function assertPublishable({ check, read }: CheckedRules): string {
  if (check.ok && read !== undefined) return read.contentHash;
  throw new ProblemError('rule-set-not-acceptable', nameFaults(check.faults, check.moreFaults), {
    errors: check.faults,
    ...(check.moreFaults > 0 && { moreErrors: check.moreFaults }),
  });
}

function alreadyPublished(version: number): ProblemError {
  return new ProblemError('already-published', `Version ${version} has exactly this content.`, { version });
}

interface RetireRequest {
  ruleSetId: string;
  version: number;
  reason: string;
}

/**
 * Retires a published version: nothing new may point at it. What points at it already goes on as it is.
 *
 * @throws ProblemError `not-found`, `already-retired` with who did it before
 */
export async function retireVersion(deps: Deps, actor: Actor, request: RetireRequest): Promise<VersionView> {
  const { ruleSetId, version } = request;
  const found = await findVersion(deps.db.prisma, ruleSetId, version);
  if (found === undefined) throw notFound('version of a rule set');
  if (found.retired !== undefined) throw alreadyRetired(found);
  try {
    await insertRetirement(deps.db.prisma, actor, { ...request, retiredAt: deps.clock.now() });
  } catch (error) {
    if (!isUniqueViolation(error)) throw error;
    throw alreadyRetired((await findVersion(deps.db.prisma, ruleSetId, version)) ?? found);
  }
  return (await findVersion(deps.db.prisma, ruleSetId, version)) ?? found;
}

function alreadyRetired({ version, retired }: VersionView): ProblemError {
  const when = retired === undefined ? '' : ` at ${retired.at} by ${retired.by}`;
  return new ProblemError('already-retired', `Version ${version} was retired${when}.`, { retired });
}

/** @throws ProblemError `not-found` (the rule set) */
export async function readVersions(deps: Deps, ruleSetId: string): Promise<Omit<VersionView, 'document'>[]> {
  if ((await findRuleSet(deps.db.prisma, ruleSetId)) === undefined) throw notFound('rule set');
  return listVersions(deps.db.prisma, ruleSetId);
}

/** @throws ProblemError `not-found` */
export async function readVersion(deps: Deps, ids: { ruleSetId: string; version: number }): Promise<VersionView> {
  const found = await findVersion(deps.db.prisma, ids.ruleSetId, ids.version);
  if (found === undefined) throw notFound('version of a rule set');
  return found;
}

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
