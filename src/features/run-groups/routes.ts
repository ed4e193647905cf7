import type { FastifyInstance } from 'fastify';
import { STAFF } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { eventParams, IfMatch } from '../../http/common-schemas.ts';
import { etagOf } from '../../http/etag.ts';
import { addRoute } from '../../http/route.ts';
import { changeRunGroup } from './change.ts';
import { createRunGroup, type RunGroupAnswer } from './create.ts';
import { readRunGroup, readRunGroups } from './read.ts';
import {
  RUN_GROUP_EXAMPLE,
  RunGroupChanges,
  RunGroupInput,
  RunGroupList,
  RunGroupView,
  runGroupParams,
} from './schemas.ts';

const EXAMPLE = {
  runGroupId: '019ab8f0-0000-7000-8000-0000000000b1',
  eventId: '019ab8f0-0000-7000-8000-0000000000e1',
  ...RUN_GROUP_EXAMPLE,
  rulesHash: 'f3a1c0de5b7742d18e0c7fd1b9a2c4e6f8a0b1c2d3e4f5061728394a5b6c7d8e',
  firstSessionOnEventDay: true,
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
