import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { eventParams } from '../../http/frame/common-schemas.ts';
import { addRoute } from '../../http/frame/route.ts';
import { getReadiness } from './readiness.ts';
import { READINESS_EXAMPLE, ReadinessView } from './readiness-schemas.ts';

/** How ready an event is. */
export async function readinessRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/events/:eventId/readiness',
    operationId: 'getEventReadiness',
    summary: 'Read how ready an event is: counts, common findings, who is missing, forecast of the line',
    description:
      'Counts by status and run group at this moment, rules on watch, and a forecast of how long the line will be.',
    tag: 'Line',
    access: STAFF,
    params: eventParams,
    success: { 200: { description: 'As of now', schema: ReadinessView, example: READINESS_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: await getReadiness(deps, params.eventId) }),
  });
}
