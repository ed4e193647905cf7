import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { eventParams, Id } from '../../http/frame/common-schemas.ts';
import { decodeCursor, toPage } from '../../http/frame/cursor.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import {
  ContradictionList,
  contradictionQuery,
  CONTRADICTIONS_EXAMPLE,
  UPLOAD_EXAMPLE,
  UploadChecks,
  UPLOADED_EXAMPLE,
  UploadedChecks,
} from './upload-schemas.ts';
import { uploadChecks } from './upload.ts';
import { hasEvent, listContradictions } from './upload-store.ts';

// A thousand checks with the longest texts, in kilobytes of 1024.
const UPLOAD_LIMIT_BYTES = 512 * 1024;

/** What gates did without a network, and where it did not fit. */
export async function gateUploadRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/events/:eventId/gate/checks',
    operationId: 'uploadGateChecks',
    summary: 'Upload checks that a device made by itself',
    description:
      'They have happened, so none is refused for what it says; either all are read or, when one is malformed, none. Each is known by its `clientId`: uploading it again does no harm. A pass that the server would not have given at that time, and a clock that cannot be right, become lines in the list of contradictions.',
    tag: 'Gate',
    access: STAFF,
    params: eventParams,
    body: UploadChecks,
    bodyExample: UPLOAD_EXAMPLE,
    bodyLimitBytes: UPLOAD_LIMIT_BYTES,
    success: { 200: { description: 'Kept', schema: UploadedChecks, example: UPLOADED_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, body, actor }) => ({
      status: 200,
      body: await uploadChecks(deps, actor, { eventId: params.eventId, checks: body.checks }),
    }),
  });
  addRoute(app, {
    method: 'GET',
    path: '/events/:eventId/gate/contradictions',
    operationId: 'listGateContradictions',
    summary: 'Passes without a network that the server would not have given',
    description: 'With the time of the pass and the time since when the server knew better.',
    tag: 'Gate',
    access: ['organizer', 'chief'],
    params: eventParams,
    query: contradictionQuery,
    success: {
      200: {
        description: 'One page',
        schema: ContradictionList,
        headers: { Link: 'The next page, `rel="next"`' },
        example: CONTRADICTIONS_EXAMPLE,
      },
    },
    problems: ['not-found', 'cursor-not-valid'],
    handle: async ({ params: { eventId }, query, request }) => {
      const scope = { list: 'listGateContradictions', filters: { eventId } };
      const after = decodeCursor(scope, query.cursor, z.tuple([Id]));
      if (!(await hasEvent(deps.db.prisma, eventId))) throw notFound('event');
      const page = { after: after?.[0], take: query.limit + 1 };
      const rows = await listContradictions(deps.db.prisma, eventId, page);
      const { headers, ...cut } = toPage(rows, {
        scope,
        limit: query.limit,
        url: request.url,
        positionOf: ({ id }) => [id],
      });
      return { status: 200, body: { contradictions: cut.rows.map(({ view }) => view), next: cut.next }, headers };
    },
  });
}
