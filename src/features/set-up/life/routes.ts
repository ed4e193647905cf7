import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../../deps.ts';
import { eventParams } from '../../../http/frame/common-schemas.ts';
import { etagOf } from '../../../http/frame/etag.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { toEventView } from '../event-change.ts';
import { EVENT_EXAMPLE, EventView } from '../event-schemas.ts';
import { runGroupParams } from '../run-group-schemas.ts';
import { venueParams } from '../venue-schemas.ts';
import { cancelEvent, deleteEvent, deleteGroup, deleteUnusedVenue } from './end.ts';
import { CancelEvent, COPY_EXAMPLE, copyEvent, CopyEvent } from './copy.ts';

const EXAMPLE = {
  eventId: '019ab8f0-0000-7000-8000-0000000000e1',
  ...EVENT_EXAMPLE,
  timeZone: 'Europe/Berlin',
  declarations: 'closed',
  createdAt: '2026-05-02T09:12:00.000Z',
};
const ETAG = { ETag: 'Version of the event' };
const GONE = { 204: { description: 'It is gone' } };

/** The beginning and the end of events, groups and venues: made from another, cancelled, deleted. Organizers only. */
export async function lifeRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const events = { tag: 'Events', access: ['organizer'] } as const;
  addRoute(app, {
    ...events,
    method: 'POST',
    path: '/events/:eventId/copies',
    operationId: 'copyEvent',
    summary: 'Make a new event with the settings of another',
    description:
      'Days, window and first sessions move by whole days at the same times of day; run groups keep rules, limits and ' +
      'effects, and take what the venue changes today. A retired version is replaced by the newest that stands. Entries ' +
      'and people are not copied.',
    params: eventParams,
    body: CopyEvent,
    bodyExample: COPY_EXAMPLE,
    success: {
      201: {
        description: 'Created',
        schema: EventView,
        headers: { ...ETAG, Location: 'The event' },
        example: { ...EXAMPLE, name: COPY_EXAMPLE.name, startsOn: '2027-06-12', endsOn: '2027-06-13' },
      },
    },
    problems: ['not-found', 'not-acceptable'],
    handle: async ({ params, body, actor, request }) => {
      const event = await copyEvent(deps, actor, { ...params, input: body, requestId: request.id });
      const headers = { etag: etagOf(event.rev), location: `/v1/events/${event.eventId}` };
      return { status: 201, body: toEventView(event, deps.clock.now()), headers };
    },
  });
  addRoute(app, {
    ...events,
    method: 'POST',
    path: '/events/:eventId/cancel',
    operationId: 'cancelEvent',
    summary: 'Cancel an event',
    description:
      'From then on the gate admits nobody, with and without a network, and nothing is declared. Nothing is deleted, and ' +
      'it is not taken back: an event that takes place after all is a copy of this one.',
    params: eventParams,
    body: CancelEvent,
    bodyExample: { reason: 'The track is under water' },
    success: {
      200: {
        description: 'The event as it is now',
        schema: EventView,
        headers: ETAG,
        example: {
          ...EXAMPLE,
          cancelled: { at: '2026-06-12T15:00:00.000Z', by: 'Office desk', reason: 'The track is under water' },
        },
      },
    },
    problems: ['not-found', 'state-moved-on'],
    handle: async ({ params, body, actor, request }) => {
      const event = await cancelEvent(deps, actor, { ...params, ...body, requestId: request.id });
      return { status: 200, body: toEventView(event, deps.clock.now()), headers: { etag: etagOf(event.rev) } };
    },
  });
  addDeleteRoutes(app, deps);
}

function addDeleteRoutes(app: FastifyInstance, deps: Deps): void {
  const common = { method: 'DELETE', access: ['organizer'], success: GONE, problems: ['not-found', 'in-use'] } as const;
  addRoute(app, {
    ...common,
    tag: 'Events',
    path: '/events/:eventId',
    operationId: 'deleteEvent',
    summary: 'Delete an event that was made by mistake',
    description:
      'With run groups, entries, links and saved answers, as long as nobody has submitted a declaration. Access of the ' +
      'staff that was for this event alone ends. Afterwards an event can be cancelled only.',
    params: eventParams,
    handle: async ({ params, actor }) => {
      await deleteEvent(deps, actor, params.eventId);
      return { status: 204 };
    },
  });
  addRoute(app, {
    ...common,
    tag: 'Events',
    path: '/events/:eventId/run-groups/:runGroupId',
    operationId: 'deleteRunGroup',
    summary: 'Delete a run group that nobody is entered in',
    description: 'The history of the event keeps that there was one.',
    params: runGroupParams,
    handle: async ({ params, actor, request }) => {
      await deleteGroup(deps, actor, { ...params, requestId: request.id });
      return { status: 204 };
    },
  });
  addRoute(app, {
    ...common,
    tag: 'Venues',
    path: '/venues/:venueId',
    operationId: 'deleteVenue',
    summary: 'Delete a venue at which no event is',
    description: 'With what it changes in rule sets.',
    params: venueParams,
    handle: async ({ params, actor }) => {
      await deleteUnusedVenue(deps, actor, params.venueId);
      return { status: 204 };
    },
  });
}
