import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../../deps.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { SET_UP_EXAMPLE, setUpQuery, SetUpView, skipParams, SkipStep } from './schemas.ts';
import { readSetUp, skipStep } from './steps.ts';

/** How far the way from an empty server to entrants who declare is gone. Organizers only. */
export async function setUpRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = { tag: 'Events', access: ['organizer'] } as const;
  const success = { 200: { description: 'The steps as they stand', schema: SetUpView, example: SET_UP_EXAMPLE } };
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/set-up',
    operationId: 'getSetUp',
    summary: 'Read what is still missing before entrants can start',
    description:
      'Venue, event, rules, run groups, people, entries, links: each done, open or left out, and what is missing.',
    query: setUpQuery,
    success,
    problems: ['not-found'],
    handle: async ({ query }) => ({ status: 200, body: await readSetUp(deps, query.eventId) }),
  });
  addRoute(app, {
    ...common,
    method: 'PUT',
    path: '/events/:eventId/set-up/:step',
    operationId: 'skipSetUpStep',
    summary: 'Leave a step of setting up out, or have it count again',
    description: 'What it would have made can be made at any time all the same.',
    params: skipParams,
    body: SkipStep,
    bodyExample: { skipped: true },
    success,
    problems: ['not-found'],
    handle: async ({ params, body, actor }) => ({
      status: 200,
      body: await skipStep(deps, actor, { ...params, ...body }),
    }),
  });
}
