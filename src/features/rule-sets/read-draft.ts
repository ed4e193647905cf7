import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { JsonObject } from '../../http/json-object.ts';
import { ProblemError } from '../../http/problem.ts';
import { checkRules, rulesAsText } from '../../records/rule-check.ts';
import type { CheckedRules, RuleCheck } from '../../records/rule-check.task.ts';
import { type CheckView, type CreateRuleSet, Name } from './schemas.ts';

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
