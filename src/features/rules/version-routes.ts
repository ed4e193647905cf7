import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { IfMatch } from '../../http/frame/common-schemas.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { YAML } from '../../http/yaml/yaml-source.ts';
import { checkRules, rulesAsText } from '../../records/judging/rules.ts';
import {
  CHECK_EXAMPLE,
  CheckView,
  PUBLISH_EXAMPLE,
  PUBLISHED_EXAMPLE,
  PublishedView,
  PublishRuleSet,
  RETIRE_EXAMPLE,
  RETIRED_EXAMPLE,
  RetireVersion,
  ruleSetParams,
  VERSION_EXAMPLE,
  VersionList,
  versionParams,
  VersionView,
  YAML_EXAMPLE,
  YamlText,
} from './rule-set-schemas.ts';
import { publishRuleSet, readVersion, readVersions, retireVersion, versionBody } from './publish.ts';
import { findRuleSet } from './rule-set-store.ts';

/** From draft to published version. Organizers check and publish; staff read versions, because they need rule texts. */
export async function ruleSetVersionRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const organizer = { tag: 'Rule sets', access: ['organizer'] } as const;
  const staff = { tag: 'Rule sets', access: STAFF } as const;
  addRoute(app, {
    ...organizer,
    method: 'POST',
    path: '/rule-sets/:ruleSetId/check',
    operationId: 'checkRuleSet',
    summary: 'Check a draft',
    description: 'Finds every fault without publishing: types, units, names, expressions, and the examples are run.',
    params: ruleSetParams,
    success: { 200: { description: 'What the check found', schema: CheckView, example: CHECK_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, actor }) => {
      const ruleSet = await findRuleSet(deps.db.prisma, params.ruleSetId);
      if (ruleSet === undefined) throw notFound('rule set');
      return { status: 200, body: (await checkRules(deps, actor, rulesAsText(ruleSet))).check };
    },
  });
  addRoute(app, {
    ...organizer,
    method: 'POST',
    path: '/rule-sets/:ruleSetId/publish',
    operationId: 'publishRuleSet',
    summary: 'Publish a draft',
    description:
      'The draft that `If-Match` names becomes the next version, which never changes again. The pointers in `errors` ' +
      'lead into the document of the draft.',
    params: ruleSetParams,
    headers: IfMatch,
    body: PublishRuleSet,
    bodyExample: PUBLISH_EXAMPLE,
    success: {
      201: {
        description: 'Published',
        schema: PublishedView,
        headers: { Location: 'The version' },
        example: PUBLISHED_EXAMPLE,
      },
    },
    problems: [
      'not-found',
      'already-published',
      'rule-set-not-acceptable',
      'precondition-required',
      'precondition-failed',
    ],
    handle: async ({ params, headers, body, actor }) => {
      const request = { ruleSetId: params.ruleSetId, ifMatch: headers['if-match'], input: body };
      const published = await publishRuleSet(deps, actor, request);
      const location = `/v1/rule-sets/${published.ruleSetId}/versions/${published.version}`;
      return { status: 201, body: published, headers: { location } };
    },
  });
  addRoute(app, {
    ...staff,
    method: 'GET',
    path: '/rule-sets/:ruleSetId/versions',
    operationId: 'listRuleSetVersions',
    summary: 'List published versions',
    description: 'Number, hash, changelog and whether it was retired, the newest first.',
    params: ruleSetParams,
    success: {
      200: {
        description: 'All versions, newest first',
        schema: VersionList,
        example: { versions: [{ ...PUBLISHED_EXAMPLE, ...PUBLISH_EXAMPLE }] },
      },
    },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: { versions: await readVersions(deps, params.ruleSetId) } }),
  });
  addRoute(app, {
    ...staff,
    method: 'GET',
    path: '/rule-sets/:ruleSetId/versions/:version',
    operationId: 'getRuleSetVersion',
    summary: 'Read a published version',
    params: versionParams,
    description: 'With `Accept: application/yaml` the answer is the document alone, in a stable order.',
    success: {
      200: {
        description: 'The version',
        schema: VersionView,
        example: VERSION_EXAMPLE,
        alternatives: { [YAML]: { schema: YamlText, example: YAML_EXAMPLE } },
      },
    },
    problems: ['not-found'],
    handle: async ({ params, request }) => ({
      status: 200,
      ...versionBody(await readVersion(deps, params), request.headers.accept),
    }),
  });
  addRoute(app, {
    ...organizer,
    method: 'POST',
    path: '/rule-sets/:ruleSetId/versions/:version/retire',
    operationId: 'retireRuleSetVersion',
    summary: 'Retire a published version',
    description: 'Nothing new may point at it from then on. Run groups that do go on; so does all it has judged.',
    params: versionParams,
    body: RetireVersion,
    bodyExample: RETIRE_EXAMPLE,
    success: { 200: { description: 'The retired version', schema: VersionView, example: RETIRED_EXAMPLE } },
    problems: ['not-found', 'already-retired'],
    handle: async ({ params, body, actor }) => ({
      status: 200,
      body: await retireVersion(deps, actor, { ...params, ...body }),
    }),
  });
}
