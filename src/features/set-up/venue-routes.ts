import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { IfMatch } from '../../http/frame/common-schemas.ts';
import { assertIfMatch, etagOf, stale } from '../../http/frame/headers.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { canonicalHash, canonicalJson } from '../../platform/canonical-json.ts';
import { decisionTime } from '../../platform/clock.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { type LockedEvent, lockEvent, recordEventChange } from '../../records/history/event-history.ts';
import {
  admissionDays,
  assertMayMove,
  daysMoved,
  type EventDays,
  orderDerivation,
  previewDays,
  sameDays,
} from '../../records/locks/event-days.ts';
import { entrantTokenEnd, moveEntrantTokenEnds } from '../../records/notify-entrant.ts';
import {
  VENUE_EXAMPLE,
  VENUE_PREVIEW_EXAMPLE,
  VenueInput,
  venueParams,
  VenuePreview,
  VenueReplacement,
  VenueView,
} from './event-schemas.ts';
import {
  findVenue,
  insertVenue,
  listEventIds,
  listEventsAt,
  listVenues,
  lockVenue,
  type StoredVenue,
  updateVenue,
} from './event-store.ts';

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

interface ReplaceRequest {
  venueId: string;
  ifMatch: string | undefined;
  input: VenueReplacement;
  requestId: string;
}

/**
 * Replaces a venue, starting from the version the caller read, and writes it into the history of its events: of those to
 * come, and of those from before whose days it moves. Another zone is taken, once cars are signed off for events that are
 * not over, only from a caller who has seen what it does and says why; every acceptance there is then derived anew.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `not-acceptable`, `preview-needed`
 */
async function replaceVenue(deps: Deps, actor: Actor, request: ReplaceRequest): Promise<StoredVenue> {
  const { venueId, ifMatch, requestId } = request;
  const { reason, preview, ...input } = request.input;
  return inTransaction(deps.db.prisma, async (tx) => {
    const current = (await lockVenue(tx, venueId)) ? await findVenue(tx, venueId) : undefined;
    if (current === undefined) throw notFound('venue');
    assertIfMatch(ifMatch, etagOf(current.rev));
    const locked = await lockEvents(tx, venueId);
    const at = await decisionTime(tx, deps.clock);
    const events = await eventsAtVenue(tx, {
      venueId,
      timeZone: current.view.timeZone,
      wanted: input.timeZone,
      now: at,
    });
    await assertSeen(tx, events, { venueId, seen: preview, tag: zoneTag(venueId, events), reason });
    const updated = await updateVenue(tx, venueId, current.rev, input);
    if (updated === undefined) throw stale(etagOf(current.rev));
    const changed = changedFields(current.view, input);
    if (Object.keys(changed.to).length + Object.keys(changed.from).length === 0) return updated;
    const said = reason === undefined ? {} : { reason };
    for (const event of events.filter(({ over, moved }) => moved || !over)) {
      const { eventId, moved, over, from, to } = event;
      const head = locked.get(eventId);
      // Made after the lock: nobody is signed off for it yet.
      if (head === undefined) continue;
      await moveEntrantTokenEnds(tx, eventId, { from: entrantTokenEnd(from), to: entrantTokenEnd(to) });
      const data = { venueId, ...changed, ...(moved ? { days: daysMoved(from, to) } : {}), ...said };
      await recordEventChange(tx, head, { actor, at, action: 'venue.changed', data, requestId });
      if (moved && !over) await orderDerivation(tx, { eventId, seq: head.historySeq, requestId });
    }
    return updated;
  });
}

/** In order of their ids, like everybody who locks several. */
async function lockEvents(tx: Tx, venueId: string): Promise<Map<string, LockedEvent>> {
  const locked = new Map<string, LockedEvent>();
  for (const eventId of await listEventIds(tx, venueId)) {
    const event = await lockEvent(tx, eventId);
    if (event !== undefined) locked.set(eventId, event);
  }
  return locked;
}

async function assertSeen(
  tx: Tx,
  events: readonly EventAtVenue[],
  said: { venueId: string; seen: string | undefined; tag: string; reason: string | undefined },
): Promise<void> {
  const toMove = events.filter(({ moved, over }) => moved && !over);
  const cars = await Promise.all(toMove.map(async (event) => (await previewDays(tx, event)).signedOff));
  const signedOff = cars.reduce((sum, count) => sum + count, 0);
  const { venueId, seen, tag, reason } = said;
  assertMayMove({ signedOff, seen: seen === tag, reason, path: `/v1/venues/${venueId}/preview` });
}

/** The fields that are another than before, as they were and as they are. */
function changedFields({ venueId: _id, ...was }: VenueView, is: VenueInput): { from: object; to: object } {
  const before: Readonly<Record<string, unknown>> = was;
  const after: Readonly<Record<string, unknown>> = is;
  const same = (key: string) => canonicalJson(before[key] ?? null) === canonicalJson(after[key] ?? null);
  const keys = [...new Set([...Object.keys(was), ...Object.keys(is)])].filter((key) => !same(key));
  const pick = (one: Readonly<Record<string, unknown>>) =>
    Object.fromEntries(keys.filter((key) => one[key] !== undefined).map((key) => [key, one[key]]));
  return { from: pick(before), to: pick(after) };
}

/** An event at a venue whose zone changes. */
interface EventAtVenue {
  eventId: string;
  name: string;
  from: EventDays;
  to: EventDays;
  /** its first or last instant becomes another */
  moved: boolean;
  /** over by its days, as they are and as they would be: nobody is admitted any more */
  over: boolean;
}

/**
 * Shows what another zone of a venue would do to the cars that are signed off for its events. Nothing is written.
 *
 * @throws ProblemError `not-found`
 */
async function previewVenue(deps: Deps, venueId: string, input: VenueReplacement): Promise<VenuePreview> {
  const db = deps.db.prisma;
  const current = await findVenue(db, venueId);
  if (current === undefined) throw notFound('venue');
  const now = await decisionTime(db, deps.clock);
  const { timeZone } = current.view;
  const events = await eventsAtVenue(db, { venueId, timeZone, wanted: input.timeZone, now });
  const shown = await Promise.all(
    events
      .filter(({ over }) => !over)
      .map(async ({ eventId, name, moved, from, to }) => {
        return { eventId, name, sameDays: !moved, ...(await previewDays(db, { eventId, from, to })) };
      }),
  );
  return { preview: zoneTag(venueId, events), sameZone: timeZone === input.timeZone, events: shown };
}

/** The events of a venue with their days as they are, and as they would be in another zone; by id. */
async function eventsAtVenue(
  db: Tx,
  change: { venueId: string; timeZone: string; wanted: string; now: Date },
): Promise<EventAtVenue[]> {
  const { timeZone, wanted, now } = change;
  return (await listEventsAt(db, change.venueId)).map(({ eventId, name, startsOn, endsOn }) => {
    const from = { startsOn, endsOn, timeZone };
    const to = { startsOn, endsOn, timeZone: wanted };
    const over = [from, to].every((days) => admissionDays(days).until <= now);
    return { eventId, name, from, to, moved: !sameDays(from, to), over };
  });
}

/** Names a change of the zone: from what to what, for the events that it moves and that are not over. */
function zoneTag(venueId: string, events: readonly EventAtVenue[]): string {
  const moved = events.filter((event) => event.moved && !event.over);
  return canonicalHash({ venueId, events: moved.map(({ eventId, from, to }) => ({ eventId, from, to })) });
}
