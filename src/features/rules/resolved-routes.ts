import type { FastifyInstance } from 'fastify';
import { STAFF } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { addRoute } from '../../http/frame/route.ts';
import { readResolvedRules } from './resolved-read.ts';
import { RESOLVED_EXAMPLE, ResolvedRulesView, resolvedRulesParams } from './resolved-schemas.ts';

/** The rules as they judge a run group: version, venue and group put together, nothing hidden. */
export async function resolvedRulesRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    tag: 'Rule sets',
    access: STAFF,
    method: 'GET',
    path: '/run-groups/:runGroupId/resolved-rules',
    operationId: 'getResolvedRules',
    summary: 'Read the rules that judge a run group, and where each value came from',
    description: 'Rule set, venue and run group put together; each value says which of the three it is from.',
    params: resolvedRulesParams,
    success: { 200: { description: 'The rules', schema: ResolvedRulesView, example: RESOLVED_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: await readResolvedRules(deps, params.runGroupId) }),
  });
}
