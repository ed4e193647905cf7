import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { entryParams } from '../../http/frame/common-schemas.ts';
import { addRoute } from '../../http/frame/route.ts';
import { eraseEntry } from './erase.ts';
import { exportPersonalData } from './export.ts';
import { ERASED_EXAMPLE, ErasedEntry, EraseEntry, PERSONAL_DATA_EXAMPLE, PersonalData } from './schemas.ts';

/** Personal data: what is on record about the people of an entry, and its erasure. */
export async function personalDataRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/entries/:entryId/personal-data',
    operationId: 'exportPersonalData',
    summary: 'Read everything on record about the people of an entry',
    description: 'One document. Inspectors and other staff appear by role, not by name.',
    tag: 'Personal data',
    access: ['organizer', 'entrant'],
    params: entryParams,
    success: {
      200: {
        description: 'Everything on record',
        schema: PersonalData,
        headers: { 'Content-Disposition': 'A name for the file' },
        example: PERSONAL_DATA_EXAMPLE,
      },
    },
    problems: ['not-found'],
    handle: async ({ params }) => {
      const body = await exportPersonalData(deps, params.entryId);
      const headers = { 'content-disposition': `attachment; filename="entry-${body.entry.carNumber}.json"` };
      return { status: 200, body, headers };
    },
  });
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/erase',
    operationId: 'eraseEntry',
    summary: 'Erase the people of an entry',
    description:
      'Once the event is over: names, addresses and numbers are gone for good, tokens of the entry stop working, its ' +
      'photos are removed. Declarations, findings, decisions and the history stay, without the person. Erasing again ' +
      'answers the same. The server does it by itself `retentionDays` after the last event day.',
    tag: 'Personal data',
    access: ['organizer'],
    params: entryParams,
    body: EraseEntry,
    bodyExample: { reason: 'Asked for by the entrant' },
    success: { 200: { description: 'Erased', schema: ErasedEntry, example: ERASED_EXAMPLE } },
    problems: ['not-found', 'event-not-over'],
    handle: async ({ params, body, actor, request }) => ({
      status: 200,
      body: await eraseEntry(deps, actor, {
        entryId: params.entryId,
        reason: body.reason,
        force: body.force === true,
        requestId: request.id,
      }),
    }),
  });
}
