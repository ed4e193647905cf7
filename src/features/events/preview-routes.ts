import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { eventParams } from '../../http/common-schemas.ts';
import { addRoute } from '../../http/route.ts';
import { previewEvent } from './preview.ts';
import { EVENT_PREVIEW_EXAMPLE, EventPreview } from './preview-schemas.ts';
import { EventChanges } from './schemas.ts';

/** What other days of an event would do to its cars. Organizers only; nothing is written. */
export async function eventPreviewRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/events/:eventId/preview',
    operationId: 'previewEvent',
    summary: 'See what other days do to signed-off cars before an event is changed',
    description:
      'Takes the body of PATCH and changes nothing. Answers which accepted cars would follow the new days, keep an end ' +
      'of their own, lose their clearance or need the line again. `preview` of the answer is what PATCH asks for when the ' +
      'days or the zone change and cars are signed off.',
    tag: 'Events',
    access: ['organizer'],
    params: eventParams,
    body: EventChanges,
    bodyExample: { endsOn: '2026-06-15' },
    success: { 200: { description: 'What it would do', schema: EventPreview, example: EVENT_PREVIEW_EXAMPLE } },
    problems: ['not-found', 'not-acceptable'],
    handle: async ({ params, body }) => ({ status: 200, body: await previewEvent(deps, params.eventId, body) }),
  });
}
