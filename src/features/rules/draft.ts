import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { assertIfMatch, etagOf, stale } from '../../http/frame/etag.ts';
import { JsonObject } from '../../http/body/json-object.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { keyOrder, writeYaml } from '../../http/yaml/yaml-value.ts';
import type { CheckedRules, RuleCheck } from '../../records/judging/rules.task.ts';
import { checkRules, rulesAsText } from '../../records/judging/rules.ts';
import { type CheckView, type CreateRuleSet, Name, type ReplaceDraft } from './rule-set-schemas.ts';
import { findRuleSet, insertRuleSet, updateDraft } from './rule-set-store.ts';
import type { CheckedRuleSet } from './publish.ts';

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
