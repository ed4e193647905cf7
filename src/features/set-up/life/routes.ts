import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import { eventParams, line, PlannedDay, PlannedInstant, text } from '../../../http/frame/common-schemas.ts';
import { etagOf } from '../../../http/frame/headers.ts';
import { addRoute } from '../../../http/frame/route.ts';
import type { Actor } from '../../../domain/actor.ts';
import { addDays, dateOf, daysBetween, plainDateAt, sameTimeOn } from '../../../domain/calendar.ts';
import { type FieldError, notFound } from '../../../http/frame/problem.ts';
import { decisionTime } from '../../../platform/clock.ts';
import { inTransaction, type Tx } from '../../../platform/database/db.ts';
import { lockEvent, recordEventChange } from '../../../records/history/event-history.ts';
import { assertEventMakesSense, toEventView, toInput } from '../event-change.ts';
import { EVENT_EXAMPLE, type EventInput, EventView, venueParams } from '../event-schemas.ts';
import { runGroupParams } from '../run-group-schemas.ts';
import { findEvent, insertEvent, type StoredEvent } from '../event-store.ts';
import { assertNoFaults, type PreparedRules, prepareRules } from '../run-group-rules.ts';
import {
  findVenueOverlay,
  insertRunGroup,
  keepResolvedRules,
  listRunGroups,
  type RunGroupData,
  type StoredRunGroup,
} from '../run-group-store.ts';
import { cancelEvent, deleteEvent, deleteGroup, deleteUnusedVenue } from './end.ts';
import { findVersionToUse } from './store.ts';

interface CopyRequest {
  eventId: string;
  input: CopyEvent;
  requestId: string;
}

interface ReadyGroup {
  data: RunGroupData;
  rules: PreparedRules;
}

/**
 * Makes a new event with the settings of another: days and window moved by whole days at the same times of the venue's
 * clock, run groups with limits, effects and first sessions. Entries, people and skipped steps stay behind. A group takes
 * what its venue changes today, as a new group does, and the newest version where its own was retired.
 *
 * @throws ProblemError `not-found`, `not-acceptable` naming every place; those of `prepareRules`
 */
async function copyEvent(deps: Deps, actor: Actor, request: CopyRequest): Promise<StoredEvent> {
  const db = deps.db.prisma;
  const source = await findEvent(db, request.eventId);
  if (source === undefined) throw notFound('event');
  const wanted = movedEvent(source, request.input);
  await assertEventMakesSense(db, wanted);
  const shift = daysBetween(source.startsOn, wanted.startsOn);
  const groups: ReadyGroup[] = [];
  for (const group of await listRunGroups(db, source.eventId)) {
    groups.push(await readyGroup(deps, actor, { source, group, shift }));
  }
  return inTransaction(db, async (tx) => {
    const at = await decisionTime(tx, deps.clock);
    const event = await insertEvent(tx, wanted);
    const locked = await lockEvent(tx, event.eventId);
    if (locked === undefined) throw notFound('event');
    for (const group of groups) await insertGroup(tx, event.eventId, group);
    const data = { copyOf: source.eventId, runGroups: groups.map(({ data: { name } }) => name) };
    await recordEventChange(tx, locked, { actor, at, action: 'event.copied', data, requestId: request.requestId });
    return event;
  });
}

function movedEvent(source: StoredEvent, input: CopyEvent): EventInput {
  const { name, startsOn } = input;
  const shift = daysBetween(source.startsOn, startsOn);
  const moved = (instant: Date): string => movedInstant(instant, shift, source.timeZone).toISOString();
  return {
    ...toInput(source),
    name,
    startsOn,
    endsOn: addDays(source.endsOn, shift),
    declarationsOpenAt: input.declarationsOpenAt ?? moved(source.declarationsOpenAt),
    declarationsCloseAt: input.declarationsCloseAt ?? moved(source.declarationsCloseAt),
  };
}

/** The same time of day at the venue, so many days later, over a change of the clock too. */
function movedInstant(instant: Date, days: number, timeZone: string): Date {
  return sameTimeOn(instant, addDays(plainDateAt(instant, timeZone), days), timeZone);
}

async function readyGroup(
  deps: Deps,
  actor: Actor,
  { source, group, shift }: { source: StoredEvent; group: StoredRunGroup; shift: number },
): Promise<ReadyGroup> {
  const db = deps.db.prisma;
  const { name, order, parameters, overlay, ruleSetId } = group;
  const ruleSetVersion = await findVersionToUse(db, ruleSetId, group.ruleSetVersion);
  const venueOverlay = await findVenueOverlay(db, source.venueId, ruleSetId);
  const wanted = { ruleSetId, ruleSetVersion, parameters, overlay, venueOverlay };
  const rules = await prepareRules(deps, actor, wanted);
  if (!rules.ok) {
    assertNoFaults(
      rules.errors.map((fault): FieldError => ({ ...fault, pointer: '', detail: `${name}: ${fault.detail}` })),
    );
    throw notFound('rule set');
  }
  const moved = (instant: Date): Date => movedInstant(instant, shift, source.timeZone);
  const firstSessionAt = moved(group.firstSessionAt);
  const sessions = group.sessions.map((one) => ({
    name: one.name,
    startsAt: moved(dateOf(one.startsAt)).toISOString(),
    endsAt: moved(dateOf(one.endsAt)).toISOString(),
  }));
  return { data: { ...wanted, name, order, firstSessionAt, sessions, resolvedHash: rules.hash }, rules };
}

async function insertGroup(tx: Tx, eventId: string, { data, rules }: ReadyGroup): Promise<void> {
  const { ruleSetId, ruleSetVersion } = data;
  const { hash, origins } = rules;
  await keepResolvedRules(tx, { hash, ruleSetId, ruleSetVersion, document: rules.rules.document, origins });
  await insertRunGroup(tx, eventId, data);
}

const CancelEvent = z
  .strictObject({ reason: text(300).describe('Why; every marshal reads it at the gate') })
  .meta({ id: 'CancelEvent' });
type CancelEvent = z.infer<typeof CancelEvent>;

const CopyEvent = z
  .strictObject({
    name: line(120).describe('Name of the new event'),
    startsOn: PlannedDay.describe(
      'Its first day, YYYY-MM-DD at the venue; it has as many days as the one it is made from',
    ),
    declarationsOpenAt: PlannedInstant.optional().describe(
      'When declarations open; absent: as many days before the event, at the same time of day',
    ),
    declarationsCloseAt: PlannedInstant.optional().describe('When they close; absent: likewise'),
  })
  .meta({ id: 'CopyEvent' });
type CopyEvent = z.infer<typeof CopyEvent>;

const COPY_EXAMPLE = { name: 'Alder Ridge club weekend 2027', startsOn: '2027-06-12' };

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
