import type { FastifyInstance } from 'fastify';
import { STAFF } from '../../../domain/actor.ts';
import type { Deps } from '../../../deps.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { readLimits } from './read.ts';
import { groupLimitsParams, LIMITS_EXAMPLE, LimitsView } from './schemas.ts';

/** The limits of a run group as a form shows them. They are changed with the run group. */
export async function limitRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    tag: 'Rule sets',
    access: STAFF,
    method: 'GET',
    path: '/run-groups/:runGroupId/limits',
    operationId: 'getLimits',
    summary: 'Read the limits of a run group with what each may be and which rules read it',
    description:
      'Value here and in the rule set, whose it is, why and since when, unit, options and plausible range. A run group is ' +
      'changed by PATCH of it, after its preview; a venue by its overlay.',
    params: groupLimitsParams,
    success: { 200: { description: 'Limits and effects', schema: LimitsView, example: LIMITS_EXAMPLE } },
    problems: ['not-found', 'too-heavy', 'too-much-at-once', 'threads-busy'],
    handle: async ({ params, actor }) => ({ status: 200, body: await readLimits(deps, actor, params.runGroupId) }),
  });
}
