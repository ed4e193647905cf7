import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { Id } from '../../http/frame/common-schemas.ts';
import { addRoute } from '../../http/frame/route.ts';
import { TRACK_EXAMPLE, TrackInput, TrackView } from './schemas.ts';
import { readTrack, switchTrack } from './wet-track.ts';

const trackParams = z.strictObject({ eventId: Id, runGroupId: Id });
const PATH = '/events/:eventId/run-groups/:runGroupId/track';

/** Whether the track is wet for a run group: staff read it, organizers and chief inspectors say it. */
export async function trackRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: PATH,
    operationId: 'getTrack',
    summary: 'Read whether the track is wet for a run group, and which cars stay in then',
    description: 'The numbers are those of a wet track, also while it is dry: read them before you say that it is wet.',
    tag: 'Events',
    access: STAFF,
    params: trackParams,
    success: { 200: { description: 'The track for this group', schema: TrackView, example: TRACK_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: await readTrack(deps, params) }),
  });
  addRoute(app, {
    method: 'PUT',
    path: PATH,
    operationId: 'setTrack',
    summary: 'Say that the track is wet for a run group, or dry again',
    description:
      'While it is wet, the gate keeps in what has slicks, a groove below the parameter `wetTreadMinimum` of the rules ' +
      '(3 mm without one), or a tread that is not known, and says why; this counts at once, also in the signed list. ' +
      'Decided by what was last declared or measured. Dry again, and every car has its clearance back. Saying what is ' +
      'so already changes nothing.',
    tag: 'Events',
    access: ['organizer', 'chief'],
    params: trackParams,
    body: TrackInput,
    bodyExample: { wet: true, reason: 'Rain over the whole circuit' },
    success: { 200: { description: 'The track as it is now', schema: TrackView, example: TRACK_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, body, actor, request }) => ({
      status: 200,
      body: await switchTrack(deps, actor, { ids: params, input: body, requestId: request.id }),
    }),
  });
}
