import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { IfMatch } from '../../http/common-schemas.ts';
import { etagOf } from '../../http/etag.ts';
import { notFound } from '../../http/problem.ts';
import { addRoute } from '../../http/route.ts';
import { createRuleSet } from './create.ts';
import { DRAFT_EXAMPLE, LIST_EXAMPLE, RULE_SET_EXAMPLE } from './examples.ts';
import { replaceDraft } from './replace-draft.ts';
import { CreateRuleSet, ReplaceDraft, RuleSetList, RuleSetView, ruleSetParams } from './schemas.ts';
import { findRuleSet, listRuleSets, type StoredRuleSet } from './store.ts';
import { toRuleSetView } from './view.ts';

const ETAG = { ETag: 'Version of the draft' };

const withETag = (status: number, ruleSet: StoredRuleSet, headers: Record<string, string> = {}) => ({
  status,
  body: toRuleSetView(ruleSet),
  headers: { etag: etagOf(ruleSet.rev), ...headers },
});

/** Drafts of rule sets. Organizers only. */
export async function ruleSetRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = { tag: 'Rule sets', access: ['organizer'] } as const;
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/rule-sets',
    operationId: 'createRuleSet',
    summary: 'Create a rule set',
    description: 'Stores a draft, complete or not; the answer says what is still wrong with it.',
    body: CreateRuleSet,
    bodyExample: DRAFT_EXAMPLE,
    success: {
      201: {
        description: 'Created',
        schema: RuleSetView,
        headers: { ...ETAG, Location: 'The rule set' },
        example: RULE_SET_EXAMPLE,
      },
    },
    problems: [],
    handle: async ({ body }) => {
      const ruleSet = await createRuleSet(deps, body);
      return withETag(201, ruleSet, { location: `/v1/rule-sets/${ruleSet.ruleSetId}` });
    },
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/rule-sets',
    operationId: 'listRuleSets',
    summary: 'List rule sets',
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
    params: ruleSetParams,
    success: { 200: { description: 'The draft', schema: RuleSetView, headers: ETAG, example: RULE_SET_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => {
      const ruleSet = await findRuleSet(deps.db.prisma, params.ruleSetId);
      if (ruleSet === undefined) throw notFound('rule set');
      return withETag(200, ruleSet);
    },
  });
  addRoute(app, {
    ...common,
    method: 'PUT',
    path: '/rule-sets/:ruleSetId',
    operationId: 'replaceRuleSet',
    summary: 'Replace a draft',
    description: 'Published versions stay as they are.',
    params: ruleSetParams,
    headers: IfMatch,
    body: ReplaceDraft,
    bodyExample: DRAFT_EXAMPLE,
    success: {
      200: { description: 'The draft as it is now', schema: RuleSetView, headers: ETAG, example: RULE_SET_EXAMPLE },
    },
    problems: ['not-found', 'precondition-required', 'precondition-failed'],
    handle: async ({ params, headers, body }) =>
      withETag(200, await replaceDraft(deps, params.ruleSetId, headers['if-match'], body)),
  });
}
