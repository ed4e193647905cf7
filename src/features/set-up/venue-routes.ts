import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { IfMatch } from '../../http/frame/common-schemas.ts';
import { etagOf } from '../../http/frame/etag.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { previewVenue, replaceVenue } from './venue-replace.ts';
import {
  VENUE_EXAMPLE,
  VENUE_PREVIEW_EXAMPLE,
  VenueInput,
  venueParams,
  VenuePreview,
  VenueReplacement,
  VenueView,
} from './venue-schemas.ts';
import { findVenue, insertVenue, listVenues, type StoredVenue } from './venue-store.ts';

const EXAMPLE = { venueId: '019ab8f0-0000-7000-8000-0000000000a1', ...VENUE_EXAMPLE };
const ETAG = { ETag: 'Version of the venue' };

const withETag = (status: number, venue: StoredVenue, headers: Record<string, string> = {}) => ({
  status,
  body: venue.view,
  headers: { etag: etagOf(venue.rev), ...headers },
});

/** Venues: circuits and what rules need to know of them. Organizers only. */
export async function venueRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = { tag: 'Venues', access: ['organizer'] } as const;
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/venues',
    operationId: 'createVenue',
    summary: 'Create a venue',
    description:
      'Only name and time zone are needed; what else is known of the circuit lets rules work out brake heat, tyre rating and sound.',
    body: VenueInput,
    bodyExample: VENUE_EXAMPLE,
    success: {
      201: { description: 'Created', schema: VenueView, headers: { ...ETAG, Location: 'The venue' }, example: EXAMPLE },
    },
    problems: [],
    handle: async ({ body }) => {
      const venue = await insertVenue(deps.db.prisma, body);
      return withETag(201, venue, { location: `/v1/venues/${venue.view.venueId}` });
    },
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/venues',
    operationId: 'listVenues',
    summary: 'List venues',
    description: 'In the order in which they were made.',
    success: {
      200: {
        description: 'All venues, oldest first',
        schema: z.object({ venues: z.array(VenueView).describe('All venues') }),
        example: { venues: [EXAMPLE] },
      },
    },
    problems: [],
    handle: async () => ({
      status: 200,
      body: { venues: (await listVenues(deps.db.prisma)).map((venue) => venue.view) },
    }),
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/venues/:venueId',
    operationId: 'getVenue',
    summary: 'Read a venue',
    description: 'What rules know of the circuit. The `ETag` is needed to replace it.',
    params: venueParams,
    success: { 200: { description: 'The venue', schema: VenueView, headers: ETAG, example: EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => {
      const venue = await findVenue(deps.db.prisma, params.venueId);
      if (venue === undefined) throw notFound('venue');
      return withETag(200, venue);
    },
  });
  addRoute(app, {
    ...common,
    method: 'PUT',
    path: '/venues/:venueId',
    operationId: 'replaceVenue',
    summary: 'Replace a venue',
    description:
      'What is left out is cleared, and the history of its events says so. Another time zone moves their days: it needs ' +
      '`preview` and `reason` once cars are signed off for an event that is not over; then each acceptance follows the ' +
      'days, keeps an end of its own, or is void and the car goes to the line.',
    params: venueParams,
    headers: IfMatch,
    body: VenueReplacement,
    bodyExample: VENUE_EXAMPLE,
    success: { 200: { description: 'The venue as it is now', schema: VenueView, headers: ETAG, example: EXAMPLE } },
    problems: ['not-found', 'not-acceptable', 'precondition-required', 'precondition-failed', 'preview-needed'],
    handle: async ({ params, headers, body, actor, request }) => {
      const asked = { ...params, ifMatch: headers['if-match'], input: body, requestId: request.id };
      return withETag(200, await replaceVenue(deps, actor, asked));
    },
  });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/venues/:venueId/preview',
    operationId: 'previewVenue',
    summary: 'See what another time zone does to signed-off cars before a venue is replaced',
    description:
      'Takes the body of PUT and changes nothing. Answers for each event of the venue that is not over which accepted cars ' +
      'would follow its days, keep an end of their own, lose their clearance or need the line again. `preview` of the ' +
      'answer is what PUT asks for when the days move and cars are signed off.',
    params: venueParams,
    body: VenueReplacement,
    bodyExample: { ...VENUE_EXAMPLE, timeZone: 'Europe/Lisbon' },
    success: { 200: { description: 'What it would do', schema: VenuePreview, example: VENUE_PREVIEW_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, body }) => ({ status: 200, body: await previewVenue(deps, params.venueId, body) }),
  });
}
