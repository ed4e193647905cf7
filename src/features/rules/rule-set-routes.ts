import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { IfMatch } from '../../http/frame/common-schemas.ts';
import { etagOf } from '../../http/frame/headers.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { addTextBody } from '../../http/body/json-body.ts';
import { YAML } from '../../http/yaml/yaml-source.ts';
import { checkRules, rulesAsText } from '../../records/judging/rules.ts';
import {
  ADOPTED_EXAMPLE,
  AnyDocument,
  BUILT_IN_EXAMPLE,
  CHECK_EXAMPLE,
  CheckView,
  CreateRuleSet,
  DOCUMENT_EXAMPLE,
  DRAFT_EXAMPLE,
  LIST_EXAMPLE,
  ReplaceDraft,
  RULE_SET_EXAMPLE,
  RuleSetList,
  ruleSetParams,
  RuleSetView,
  YAML_EXAMPLE,
  YamlText,
} from './rule-set-schemas.ts';
import { type CheckedRuleSet, createRuleSet, draftBody, replaceDraft, toRuleSetView } from './publish.ts';
import { adoptBuiltIn, AdoptBuiltIn, AdoptedView, BuiltInView, readBuiltIn } from './built-in.ts';
import { findRuleSet, listRuleSets } from './rule-set-store.ts';

const ETAG = { ETag: 'Version of the draft' };
const yamlForm = { schema: YamlText, example: YAML_EXAMPLE };
const bodies = (schema: z.ZodType, example: unknown) => ({ 'application/json': { schema, example }, [YAML]: yamlForm });

const withETag = (status: number, ruleSet: CheckedRuleSet, headers: Record<string, string> = {}) => ({
  status,
  body: toRuleSetView(ruleSet),
  headers: { etag: etagOf(ruleSet.rev), ...headers },
});

/** Drafts of rule sets, and the rules that come with the server. Organizers only. */
export async function ruleSetRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addReadRoutes(app, deps);
  addBuiltInRoutes(app, deps);
  await app.register(async (written) => {
    addTextBody(written, YAML);
    // these routes name the types they read; a merge patch is none of them
    written.removeContentTypeParser('application/merge-patch+json');
    addWriteRoutes(written, deps);
  });
}

const common = { tag: 'Rule sets', access: ['organizer'] } as const;

function addReadRoutes(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/rule-sets',
    operationId: 'listRuleSets',
    summary: 'List rule sets',
    description: 'With the newest published version of each, in the order in which they were made.',
    success: { 200: { description: 'All rule sets', schema: RuleSetList, example: LIST_EXAMPLE } },
    problems: [],
    handle: async () => ({ status: 200, body: { ruleSets: await listRuleSets(deps.db.prisma) } }),
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/rule-sets/:ruleSetId',
    operationId: 'getRuleSet',
    summary: 'Read a draft',
    description:
      'With `Accept: application/yaml` the answer is the document alone: the text as it was written, or, for a draft ' +
      'that was sent as JSON, one in a stable order.',
    params: ruleSetParams,
    success: {
      200: {
        description: 'The draft',
        schema: RuleSetView,
        headers: ETAG,
        example: RULE_SET_EXAMPLE,
        alternatives: { [YAML]: yamlForm },
      },
    },
    problems: ['not-found', 'too-much-at-once', 'threads-busy'],
    handle: async ({ params, actor, request }) => {
      const ruleSet = await findRuleSet(deps.db.prisma, params.ruleSetId);
      if (ruleSet === undefined) throw notFound('rule set');
      const { body, headers } = await draftBody(deps, actor, ruleSet, request.headers.accept);
      return { status: 200, body, headers: { etag: etagOf(ruleSet.rev), ...headers } };
    },
  });
}

function addBuiltInRoutes(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/built-in-rules',
    operationId: 'getBuiltInRules',
    summary: 'Read what rules come with the server',
    description: 'And the profiles for run groups, each with the limits that it changes.',
    success: { 200: { description: 'What there is to adopt', schema: BuiltInView, example: BUILT_IN_EXAMPLE } },
    problems: [],
    handle: async () => ({ status: 200, body: await readBuiltIn() }),
  });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/built-in-rules/adopt',
    operationId: 'adoptBuiltInRules',
    summary: 'Adopt the rules that come with the server',
    description:
      'Makes a rule set of your own of them, published as version 1, which run groups can use at once. It is a start, not ' +
      'a regulation: read it, and change what your rules say otherwise. Once more under the same name makes no second one.',
    body: AdoptBuiltIn,
    bodyExample: { name: 'Club rules 2026' },
    success: {
      200: { description: 'It was there already', schema: AdoptedView, example: ADOPTED_EXAMPLE },
      201: {
        description: 'Adopted',
        schema: AdoptedView,
        headers: { Location: 'The rule set' },
        example: ADOPTED_EXAMPLE,
      },
    },
    problems: ['too-much-at-once', 'threads-busy', 'too-heavy'],
    handle: async ({ body, actor }) => {
      const { made, ...adopted } = await adoptBuiltIn(deps, actor, body.name);
      if (!made) return { status: 200, body: adopted };
      return { status: 201, body: adopted, headers: { location: `/v1/rule-sets/${adopted.ruleSetId}` } };
    },
  });
}

/** bytes: rules of a whole club with the examples that hold them; the built-in ones alone are over half a megabyte */
export const RULE_SET_LIMIT_BYTES = 2 * 1024 * 1024;

const WRITTEN_AS_YAML =
  'As `application/yaml` the body is the rule set itself, and its `name` is the name in lists; the text is kept with ' +
  'its comments, and faults name line and column.';

function addWriteRoutes(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/rule-sets',
    operationId: 'createRuleSet',
    summary: 'Create a rule set',
    description: `Stores a draft, complete or not; the answer says what is still wrong with it. ${WRITTEN_AS_YAML}`,
    body: z.union([CreateRuleSet, YamlText]),
    bodies: bodies(CreateRuleSet, DRAFT_EXAMPLE),
    success: {
      201: {
        description: 'Created',
        schema: RuleSetView,
        headers: { ...ETAG, Location: 'The rule set' },
        example: RULE_SET_EXAMPLE,
      },
    },
    problems: ['malformed-yaml'],
    bodyLimitBytes: RULE_SET_LIMIT_BYTES,
    handle: async ({ body, actor }) => {
      const ruleSet = await createRuleSet(deps, actor, body);
      return withETag(201, ruleSet, { location: `/v1/rule-sets/${ruleSet.ruleSetId}` });
    },
  });
  addRoute(app, {
    ...common,
    method: 'PUT',
    path: '/rule-sets/:ruleSetId',
    operationId: 'replaceRuleSet',
    summary: 'Replace a draft',
    description: `Published versions stay as they are. ${WRITTEN_AS_YAML}`,
    params: ruleSetParams,
    headers: IfMatch,
    body: z.union([ReplaceDraft, YamlText]),
    bodies: bodies(ReplaceDraft, DRAFT_EXAMPLE),
    success: {
      200: { description: 'The draft as it is now', schema: RuleSetView, headers: ETAG, example: RULE_SET_EXAMPLE },
    },
    problems: ['not-found', 'precondition-required', 'precondition-failed', 'malformed-yaml'],
    bodyLimitBytes: RULE_SET_LIMIT_BYTES,
    handle: async ({ params, headers, body, actor }) => {
      const which = { ruleSetId: params.ruleSetId, ifMatch: headers['if-match'] };
      return withETag(200, await replaceDraft(deps, actor, which, body));
    },
  });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/rule-set-checks',
    operationId: 'checkRuleSetDocument',
    summary: 'Check any rule set',
    description:
      'The check of a draft for a document that is sent along; nothing is stored. YAML that cannot be read is a fault ' +
      'like any other (`bad-yaml`), so that an editor can show it. Of very many faults the first 100 are listed.',
    body: z.union([AnyDocument, YamlText]),
    bodies: bodies(AnyDocument, DOCUMENT_EXAMPLE),
    success: { 200: { description: 'What the check found', schema: CheckView, example: CHECK_EXAMPLE } },
    problems: [],
    bodyLimitBytes: RULE_SET_LIMIT_BYTES,
    handle: async ({ body, actor }) => {
      const text = typeof body === 'string' ? { yaml: body } : rulesAsText({ document: body });
      return { status: 200, body: (await checkRules(deps, actor, text)).check };
    },
  });
}
