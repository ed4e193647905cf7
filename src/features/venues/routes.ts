import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { IfMatch } from '../../http/common-schemas.ts';
import { etagOf } from '../../http/etag.ts';
import { notFound } from '../../http/problem.ts';
import { addRoute } from '../../http/route.ts';
import { replaceVenue } from './replace.ts';
import { VENUE_EXAMPLE, VenueInput, VenueView, venueParams } from './schemas.ts';
import { findVenue, insertVenue, listVenues, type StoredVenue } from './store.ts';

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
    description: 'What is left out is cleared.',
    params: venueParams,
    headers: IfMatch,
    body: VenueInput,
    bodyExample: VENUE_EXAMPLE,
    success: { 200: { description: 'The venue as it is now', schema: VenueView, headers: ETAG, example: EXAMPLE } },
    problems: ['not-found', 'precondition-required', 'precondition-failed'],
    handle: async ({ params, headers, body }) =>
      withETag(200, await replaceVenue(deps, params.venueId, headers['if-match'], body)),
  });
}
