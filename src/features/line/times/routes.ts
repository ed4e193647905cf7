import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../../deps.ts';
import { THREAD_PROBLEMS } from '../../../http/body/in-thread.ts';
import { eventParams } from '../../../http/frame/common-schemas.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { planEvent, previewPlan, readPlan } from './plan.ts';
import {
  LINE_PLAN_EXAMPLE,
  LINE_PLAN_VIEW_EXAMPLE,
  LINE_PLANNED_EXAMPLE,
  LinePlanInput,
  LinePlanned,
  LinePlanView,
} from './schemas.ts';

const PATH = '/events/:eventId/line/plan';

/** When cars are told to be at the line. */
export async function linePlanRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: PATH,
    operationId: 'getLinePlan',
    summary: 'Read when the line is open, and which car was told what',
    description: 'Where nobody has planned yet, with usual hours. It shows who would miss his session as it looks now.',
    tag: 'Events',
    access: ['organizer', 'chief', 'inspector'],
    params: eventParams,
    success: { 200: { description: 'The plan', schema: LinePlanView, example: LINE_PLAN_VIEW_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: await readPlan(deps, params.eventId) }),
  });
  addRoute(app, {
    method: 'POST',
    path: `${PATH}/preview`,
    operationId: 'previewLinePlan',
    summary: 'Try a plan for the line',
    description:
      'A time for each car, how long they would wait, who would miss his session, and who would have to be there besides. Nothing is written.',
    tag: 'Events',
    access: ['organizer', 'chief'],
    params: eventParams,
    body: LinePlanInput,
    bodyExample: LINE_PLAN_EXAMPLE,
    success: { 200: { description: 'What would come of it', schema: LinePlanned, example: LINE_PLANNED_EXAMPLE } },
    problems: ['not-found', 'not-acceptable', 'state-moved-on', ...THREAD_PROBLEMS],
    handle: async ({ params, body, actor }) => ({
      status: 200,
      body: await previewPlan(deps, actor, params.eventId, body),
    }),
  });
  addRoute(app, {
    method: 'PUT',
    path: PATH,
    operationId: 'planLine',
    summary: 'Give every car on the line its time',
    description:
      'The line, the entrant’s page, his calendar and messages say these times from then on; who was told one within 10 minutes of the ' +
      'new one keeps it. While the line works it is followed each minute: who comes without a time fits in, who would wait long is told ' +
      'later, who would miss his session is called earlier where others are not there. A change is written to an entrant once.',
    tag: 'Events',
    access: ['organizer', 'chief'],
    params: eventParams,
    body: LinePlanInput,
    bodyExample: LINE_PLAN_EXAMPLE,
    success: { 200: { description: 'Told', schema: LinePlanned, example: LINE_PLANNED_EXAMPLE } },
    problems: ['not-found', 'not-acceptable', 'state-moved-on', ...THREAD_PROBLEMS],
    handle: async ({ params, body, actor, request }) => ({
      status: 200,
      body: await planEvent(deps, actor, { eventId: params.eventId, input: body, requestId: request.id }),
    }),
  });
}
