import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { eventParams, Id, IfMatch, InstantOut, text } from '../../http/frame/common-schemas.ts';
import { etagOf } from '../../http/frame/headers.ts';
import { SessionInput, SESSIONS_EXAMPLE, SessionView, toSessions } from '../../http/views/small-views.ts';
import { addRoute } from '../../http/frame/route.ts';
import { inOrder, timetableFaults } from '../../domain/log/timetable.ts';
import { notFound } from '../../http/frame/problem.ts';
import {
  changeRunGroup,
  createRunGroup,
  readRunGroup,
  readRunGroups,
  type RunGroupAnswer,
} from './run-group-change.ts';
import { previewRunGroup } from './run-group-preview.ts';
import {
  PREVIEW_EXAMPLE,
  RUN_GROUP_EXAMPLE,
  RunGroupChanges,
  RunGroupInput,
  RunGroupList,
  runGroupParams,
  RunGroupPreview,
  RunGroupView,
} from './run-group-schemas.ts';
import { assertNoFaults } from './run-group-rules.ts';
import { findEventFrame } from './run-group-store.ts';

const EXAMPLE = {
  runGroupId: '019ab8f0-0000-7000-8000-0000000000b1',
  eventId: '019ab8f0-0000-7000-8000-0000000000e1',
  ...RUN_GROUP_EXAMPLE,
  rulesHash: 'f3a1c0de5b7742d18e0c7fd1b9a2c4e6f8a0b1c2d3e4f5061728394a5b6c7d8e',
  firstSessionOnEventDay: true,
  sessions: SESSIONS_EXAMPLE,
  wet: false,
  createdAt: '2026-05-02T09:20:00.000Z',
};
const ETAG = { ETag: 'Version of the run group' };

const withETag = (status: number, { view, rev }: RunGroupAnswer, headers: Record<string, string> = {}) => ({
  status,
  body: view,
  headers: { etag: etagOf(rev), ...headers },
});

/** Run groups: who shares a session, and the rules with which they are judged. Organizers write, staff read. */
export async function runGroupRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const organizer = { tag: 'Events', access: ['organizer'] } as const;
  const staff = { tag: 'Events', access: STAFF } as const;
  addRoute(app, {
    ...organizer,
    method: 'POST',
    path: '/events/:eventId/run-groups',
    operationId: 'createRunGroup',
    summary: 'Create a run group',
    description:
      'Drivers who share a session and a published version of a rule set, with limits and effects of their own.',
    params: eventParams,
    body: RunGroupInput,
    bodyExample: RUN_GROUP_EXAMPLE,
    success: {
      201: {
        description: 'Created',
        schema: RunGroupView,
        headers: { ...ETAG, Location: 'The run group' },
        example: EXAMPLE,
      },
    },
    problems: ['not-found', 'not-acceptable', 'name-taken'],
    handle: async ({ params, body, actor, request }) => {
      const asked = { ...params, input: body, requestId: request.id };
      const group = await createRunGroup(deps, actor, asked);
      const location = `/v1/events/${group.view.eventId}/run-groups/${group.view.runGroupId}`;
      return withETag(201, group, { location });
    },
  });
  addRoute(app, {
    ...staff,
    method: 'GET',
    path: '/events/:eventId/run-groups',
    operationId: 'listRunGroups',
    summary: 'List the run groups of an event',
    description: 'By their order, then by name.',
    params: eventParams,
    success: {
      200: { description: 'All run groups of the event', schema: RunGroupList, example: { runGroups: [EXAMPLE] } },
    },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: { runGroups: await readRunGroups(deps, params.eventId) } }),
  });
  addRoute(app, {
    ...staff,
    method: 'GET',
    path: '/events/:eventId/run-groups/:runGroupId',
    operationId: 'getRunGroup',
    summary: 'Read a run group',
    description: 'With the rules it points at and what is different here. The `ETag` is needed to change it.',
    params: runGroupParams,
    success: { 200: { description: 'The run group', schema: RunGroupView, headers: ETAG, example: EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => withETag(200, await readRunGroup(deps, params)),
  });
  addRoute(app, {
    ...organizer,
    method: 'PATCH',
    path: '/events/:eventId/run-groups/:runGroupId',
    operationId: 'changeRunGroup',
    summary: 'Change a run group',
    description:
      'Only the fields that are given change. New rules and limits judge what is declared from now on; a revision ' +
      'keeps the version and the parameters that judged it.',
    params: runGroupParams,
    headers: IfMatch,
    body: RunGroupChanges,
    bodyExample: { firstSessionAt: '2026-06-13T07:40:00.000Z', parameters: { padThicknessMinimum: null } },
    success: {
      200: { description: 'The run group as it is now', schema: RunGroupView, headers: ETAG, example: EXAMPLE },
    },
    problems: ['not-found', 'not-acceptable', 'name-taken', 'precondition-required', 'precondition-failed'],
    handle: async ({ params, headers, body, actor, request }) => {
      const asked = { ...params, ifMatch: headers['if-match'], changes: body, requestId: request.id };
      return withETag(200, await changeRunGroup(deps, actor, asked));
    },
  });
}

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

const PATH = '/events/:eventId/run-groups/:runGroupId/sessions';

/** When a run group is on track. Staff read it; organizers and chief inspectors set it, also when the day runs late. */
export async function timetableRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const answer = async ({ view, rev }: RunGroupAnswer) => {
    const event = await findEventFrame(deps.db.prisma, view.eventId);
    if (event === undefined) throw notFound('run group');
    const { runGroupId, sessions, firstSessionAt } = view;
    const body: TimetableView = { runGroupId, sessions, firstSessionAt, timeZone: event.timeZone };
    return { status: 200, body, headers: { etag: etagOf(rev) } };
  };
  addRoute(app, {
    method: 'GET',
    path: PATH,
    operationId: 'getTimetable',
    summary: 'Read when a run group is on track',
    description: 'The `ETag` is that of the run group and is needed to change it.',
    tag: 'Events',
    access: STAFF,
    params: runGroupParams,
    success: { 200: { description: 'Its sessions', schema: TimetableView, headers: ETAG, example: TIMETABLE_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => answer(await readRunGroup(deps, params)),
  });
  addRoute(app, {
    method: 'PUT',
    path: PATH,
    operationId: 'setTimetable',
    summary: 'Say when a run group is on track',
    description:
      'All of its sessions. The first one becomes the first session of the group. What is asked of a car between two ' +
      'sessions, such as its wheel torque again, is due by them; when they move, what is still open moves with them, the ' +
      'session of the same name at its new time.',
    tag: 'Events',
    access: ['organizer', 'chief'],
    params: runGroupParams,
    headers: IfMatch,
    body: TimetableInput,
    bodyExample: { sessions: SESSIONS_EXAMPLE },
    success: { 200: { description: 'Its sessions', schema: TimetableView, headers: ETAG, example: TIMETABLE_EXAMPLE } },
    problems: ['not-found', 'not-acceptable', 'precondition-required', 'precondition-failed'],
    handle: async ({ params, headers, body, actor, request }) => {
      const given = toSessions(body.sessions);
      const event = await findEventFrame(deps.db.prisma, params.eventId);
      // In the order in which they were sent: afterwards their places would be others.
      if (event !== undefined) {
        assertNoFaults(timetableFaults(given, event).map((fault) => ({ ...fault, in: 'body' as const })));
      }
      const { reason } = body;
      const changes = { sessions: inOrder(given), ...(reason === undefined ? {} : { reason }) };
      const asked = { ...params, ifMatch: headers['if-match'], changes, requestId: request.id };
      return answer(await changeRunGroup(deps, actor, asked));
    },
  });
}

const TimetableInput = z
  .strictObject({
    sessions: z
      .array(SessionInput)
      .max(100)
      .describe('All sessions of the group, in any order; empty takes the timetable away, and the first session stays'),
    reason: text(300).optional().describe('Why, for the history of the event'),
  })
  .meta({ id: 'Timetable' });
type TimetableInput = z.infer<typeof TimetableInput>;

const TimetableView = z
  .object({
    runGroupId: Id,
    sessions: z.array(SessionView).describe('In order of time; empty: no timetable is known'),
    firstSessionAt: InstantOut.describe('When the group first goes on track'),
    timeZone: z.string().describe('Time zone of the venue, IANA'),
  })
  .meta({ id: 'TimetableView' });
type TimetableView = z.infer<typeof TimetableView>;

const TIMETABLE_EXAMPLE: TimetableView = {
  runGroupId: '019ab8f0-0000-7000-8000-0000000000b1',
  sessions: SESSIONS_EXAMPLE,
  firstSessionAt: '2026-06-13T07:20:00.000Z',
  timeZone: 'Europe/Berlin',
};
