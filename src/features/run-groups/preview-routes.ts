import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { addRoute } from '../../http/route.ts';
import { previewRunGroup } from './preview.ts';
import { PREVIEW_EXAMPLE, RunGroupPreview } from './preview-schemas.ts';
import { RunGroupChanges, runGroupParams } from './schemas.ts';

/** Who would change if a run group had other rules. Organizers only; nothing is written. */
export async function runGroupPreviewRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/events/:eventId/run-groups/:runGroupId/preview',
    operationId: 'previewRunGroup',
    summary: 'See who would change before a run group is changed',
    description:
      'Takes the body of PATCH and changes nothing. Answers which declarations would get another verdict under the ' +
      'rules it leads to, with concessions on neither side, and which accepted cars would drop to the line. `preview` ' +
      'of the answer is what PATCH asks for once anybody has declared. An empty body shows the rules of today.',
    tag: 'Events',
    access: ['organizer'],
    params: runGroupParams,
    body: RunGroupChanges,
    bodyExample: { parameters: { padThicknessMinimum: { value: 5, unit: 'mm' } } },
    success: { 200: { description: 'Who would change', schema: RunGroupPreview, example: PREVIEW_EXAMPLE } },
    problems: ['not-found', 'not-acceptable'],
    handle: async ({ params, body, actor }) => ({
      status: 200,
      body: await previewRunGroup(deps, actor, params, body),
    }),
  });
}
