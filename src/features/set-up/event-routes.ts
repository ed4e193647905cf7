import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { eventParams, Id, IfMatch, PlainDateIn } from '../../http/frame/common-schemas.ts';
import { decodeCursor, toPage } from '../../http/frame/cursor.ts';
import { etagOf } from '../../http/frame/headers.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { changeEvent, createEvent, previewEvent, toEventView } from './event-change.ts';
import {
  EVENT_EXAMPLE,
  EVENT_PREVIEW_EXAMPLE,
  EventChanges,
  EventInput,
  EventList,
  EventPreview,
  eventQuery,
  EventView,
} from './event-schemas.ts';
import { readAsOf } from '../../http/frame/changed-since.ts';
import { findEvent, listEvents, type StoredEvent } from './event-store.ts';

const EXAMPLE = {
  eventId: '019ab8f0-0000-7000-8000-0000000000e1',
  ...EVENT_EXAMPLE,
  timeZone: 'Europe/Berlin',
  declarations: 'open',
  createdAt: '2026-05-02T09:12:00.000Z',
};
const ETAG = { ETag: 'Version of the event' };
const Position = z.tuple([PlainDateIn, Id]);

/** Events: days at a venue with a window for declarations. Organizers write, staff read. */
export async function eventRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const organizer = { tag: 'Events', access: ['organizer'] } as const;
  const staff = { tag: 'Events', access: STAFF } as const;
  const withETag = (status: number, event: StoredEvent, headers: Record<string, string> = {}) => ({
    status,
    body: toEventView(event, deps.clock.now()),
    headers: { etag: etagOf(event.rev), ...headers },
  });
  addRoute(app, {
    ...organizer,
    method: 'POST',
    path: '/events',
    operationId: 'createEvent',
    summary: 'Create an event',
    description: 'Days are days at the venue; declarations are taken between the two instants.',
    body: EventInput,
    bodyExample: EVENT_EXAMPLE,
    success: {
      201: { description: 'Created', schema: EventView, headers: { ...ETAG, Location: 'The event' }, example: EXAMPLE },
    },
    problems: ['not-acceptable'],
    handle: async ({ body }) => {
      const event = await createEvent(deps, body);
      return withETag(201, event, { location: `/v1/events/${event.eventId}` });
    },
  });
  addRoute(app, {
    ...staff,
    method: 'GET',
    path: '/events',
    operationId: 'listEvents',
    summary: 'List events',
    description:
      'The latest first day first, in pages. With a token for named events: those of them that are not over for it.',
    query: eventQuery,
    success: {
      200: {
        description: 'One page of events',
        schema: EventList,
        headers: { Link: 'The next page, `rel="next"`' },
        example: { events: [EXAMPLE], asOf: '2026-06-13T05:40:00.000Z' },
      },
    },
    problems: ['cursor-not-valid'],
    handle: async ({ query, request, actor }) => {
      const { cursor, limit, ...filters } = query;
      const scope = { list: 'listEvents', filters };
      const after = decodeCursor(scope, cursor, Position);
      const asOf = await readAsOf(deps.db.prisma);
      const rows = await listEvents(deps.db.prisma, { filters, after, take: limit + 1, only: actor.eventIds });
      const positionOf = (event: StoredEvent) => [event.startsOn, event.eventId];
      const page = toPage(rows, { scope, limit, url: request.url, positionOf });
      const now = deps.clock.now();
      const events = page.rows.map((event) => toEventView(event, now));
      return { status: 200, body: { events, next: page.next, asOf }, headers: page.headers };
    },
  });
  addRoute(app, {
    ...staff,
    method: 'GET',
    path: '/events/:eventId',
    operationId: 'getEvent',
    summary: 'Read an event',
    description: 'Days, declaration window, and the zone of the venue. The `ETag` is needed to change it.',
    params: eventParams,
    success: { 200: { description: 'The event', schema: EventView, headers: ETAG, example: EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => {
      const event = await findEvent(deps.db.prisma, params.eventId);
      if (event === undefined) throw notFound('event');
      return withETag(200, event);
    },
  });
  addRoute(app, {
    ...organizer,
    method: 'PATCH',
    path: '/events/:eventId',
    operationId: 'changeEvent',
    summary: 'Change an event',
    description:
      'Only the fields that are given change, and the history of the event says so. The first sessions of run groups do ' +
      'not move with the days. Other days, or a venue in another zone, need `preview` and `reason` once cars are signed ' +
      'off; then each acceptance follows the days, keeps an end of its own, or is void and the car goes to the line.',
    params: eventParams,
    headers: IfMatch,
    body: EventChanges,
    bodyExample: { declarationsCloseAt: '2026-06-13T06:00:00.000Z' },
    success: { 200: { description: 'The event as it is now', schema: EventView, headers: ETAG, example: EXAMPLE } },
    problems: ['not-found', 'not-acceptable', 'precondition-required', 'precondition-failed', 'preview-needed'],
    handle: async ({ params, headers, body, actor, request }) => {
      const asked = { ...params, ifMatch: headers['if-match'], changes: body, requestId: request.id };
      return withETag(200, await changeEvent(deps, actor, asked));
    },
  });
}

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
