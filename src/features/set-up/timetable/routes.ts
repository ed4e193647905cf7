import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../../deps.ts';
import { STAFF } from '../../../domain/actor.ts';
import { inOrder, timetableFaults } from '../../../domain/log/timetable.ts';
import { IfMatch } from '../../../http/frame/common-schemas.ts';
import { etagOf } from '../../../http/frame/etag.ts';
import { notFound } from '../../../http/frame/problem.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { SESSIONS_EXAMPLE, toSessions } from '../../../http/views/session-view.ts';
import { changeRunGroup, readRunGroup, type RunGroupAnswer } from '../run-group-change.ts';
import { assertNoFaults } from '../run-group-check.ts';
import { runGroupParams } from '../run-group-schemas.ts';
import { findEventFrame } from '../run-group-store.ts';
import { TIMETABLE_EXAMPLE, TimetableInput, TimetableView } from './schemas.ts';

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
