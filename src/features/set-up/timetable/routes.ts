import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import { STAFF } from '../../../domain/actor.ts';
import { inOrder, timetableFaults } from '../../../domain/log/timetable.ts';
import { Id, IfMatch, InstantOut, text } from '../../../http/frame/common-schemas.ts';
import { etagOf } from '../../../http/frame/etag.ts';
import { notFound } from '../../../http/frame/problem.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { SessionInput, SESSIONS_EXAMPLE, SessionView, toSessions } from '../../../http/views/small-views.ts';
import { changeRunGroup, readRunGroup, type RunGroupAnswer } from '../run-group-change.ts';
import { assertNoFaults } from '../run-group-rules.ts';
import { runGroupParams } from '../run-group-schemas.ts';
import { findEventFrame } from '../run-group-store.ts';

const PATH = '/events/:eventId/run-groups/:runGroupId/sessions';
const ETAG = { ETag: 'Version of the run group' };

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
