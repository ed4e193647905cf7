import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { assertIfMatch, etagOf, stale } from '../../http/frame/headers.ts';
import { nameFaults, notFound, ProblemError } from '../../http/frame/problem.ts';
import { wantsYaml, YAML } from '../../http/yaml/yaml-source.ts';
import { inTransaction, isUniqueViolation } from '../../platform/database/db.ts';
import type { CheckedRules, RuleCheck } from '../../records/judging/rules.task.ts';
import { checkRules, rulesAsText } from '../../records/judging/rules.ts';
import { JsonObject } from '../../http/body/json-body.ts';
import { keyOrder, writeYaml } from '../../http/yaml/yaml-value.ts';
import {
  type CheckView,
  type CreateRuleSet,
  Name,
  type PublishedView,
  type PublishRuleSet,
  type ReplaceDraft,
  type RuleSetView,
  type VersionView,
} from './rule-set-schemas.ts';
import {
  findLatestVersion,
  findRuleSet,
  findVersion,
  insertRetirement,
  insertRuleSet,
  insertVersion,
  listVersions,
  lockRuleSet,
  type StoredRuleSet,
  updateDraft,
} from './rule-set-store.ts';

/** One order for all levels: each level has a part of these keys, and reads as people would write it. */
const ORDER = keyOrder(
  (
    'name id title description kind item items field when each test ' +
    'parameter value unit vehicle maximumDays meaning atLeast atMost strict from to values ' +
    'at through inclusive addMonths addYears endOfYear within expr ' +
    'effect decision clearedBy noAnswer severity message fix basis source note floor safetyCritical recall watch concession ' +
    'answers measured parameters event startsOn endsOn venue photos stage only expect findings ' +
    'concessionCategories alwaysLook rules examples seconds'
  ).split(' '),
);

/** A rule set that was not written as YAML, as YAML: always in the same order. */
export function toYaml(document: JsonObject): string {
  return writeYaml(document, ORDER);
}

/** A document as it was sent: JSON, or YAML with the text as it was written. */
export interface Draft {
  name: string;
  document: JsonObject;
  text?: string;
}

/** A draft with what the check says of it. */
export interface CheckedDraft {
  draft: Draft;
  check: CheckView;
}

type Read = NonNullable<CheckedRules['read']>;
type Place = { line: number; column: number };

const describe = (faults: readonly { detail: string; place?: Place | undefined }[]): string =>
  faults
    .slice(0, 3)
    .map(({ detail, place }) =>
      place === undefined ? detail : `line ${place.line}, column ${place.column}: ${detail}`,
    )
    .join('; ');

function unreadable({ faults, moreFaults }: RuleCheck): ProblemError {
  const more = moreFaults === 0 ? {} : { moreErrors: moreFaults };
  return new ProblemError('malformed-yaml', `In the body: ${describe(faults)}`, { errors: faults, ...more });
}

function refuse({ places }: Read, part: 'document' | 'name', detail: string): ProblemError {
  const pointer = part === 'name' ? '/name' : '';
  const fault = { pointer, code: 'invalid-type', detail, in: 'body', place: places?.[part] };
  return new ProblemError('invalid-request', `In the body: ${describe([fault])}`, { errors: [fault] });
}

/**
 * Reads a draft that was written as YAML: the rule set itself, whose `name` is the name in lists.
 *
 * @throws ProblemError `malformed-yaml`; `invalid-request` when it is no map or has no usable name; those of `checkRules`
 */
async function readYamlDraft(deps: Deps, actor: Actor, text: string): Promise<CheckedDraft> {
  const { check, read } = await checkRules(deps, actor, { yaml: text });
  if (read === undefined) throw unreadable(check);
  const document = JsonObject.safeParse(JSON.parse(read.document));
  if (!document.success) throw refuse(read, 'document', 'a rule set is a map');
  const name = Name.safeParse(document.data['name']);
  if (!name.success) throw refuse(read, 'name', 'a draft needs a name, a text of one line');
  return { draft: { name: name.data, document: document.data, text }, check };
}

/**
 * Reads and checks a draft before anything of it is stored.
 *
 * @param input JSON, or the text of a YAML document
 * @throws ProblemError `malformed-yaml`, `invalid-request`, those of `checkRules`
 */
export async function readDraft(deps: Deps, actor: Actor, input: CreateRuleSet | string): Promise<CheckedDraft> {
  if (typeof input === 'string') return readYamlDraft(deps, actor, input);
  const { name, document = { name, parameters: {}, rules: [], examples: [] } } = input;
  const { check } = await checkRules(deps, actor, rulesAsText({ document }));
  return { draft: { name, document }, check };
}

/**
 * Stores a draft. It may have faults: people save work that is not done.
 *
 * @param input JSON, or the text of a YAML document, which is kept as it is written
 * @throws ProblemError `malformed-yaml`, `invalid-request`, those of `checkRules`
 */
export async function createRuleSet(deps: Deps, actor: Actor, input: CreateRuleSet | string): Promise<CheckedRuleSet> {
  const { draft, check } = await readDraft(deps, actor, input);
  return { ...(await insertRuleSet(deps.db.prisma, draft)), check };
}

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
