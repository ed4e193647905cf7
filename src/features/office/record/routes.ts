import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../../deps.ts';
import { entryParams } from '../../../http/frame/common-schemas.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { readEntryRecord } from './read.ts';
import { EntryRecordView, RECORD_EXAMPLE } from './schemas.ts';

/** An entry as the office reads it. */
export async function entryRecordRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    tag: 'Entries',
    access: ['organizer', 'chief'],
    method: 'GET',
    path: '/entries/:entryId/record',
    operationId: 'getEntryRecord',
    summary: 'Read who said, saw, measured and decided what about an entry',
    description:
      'Every declaration with who said it, every sign-off with its checks, every condition with who saw it done.',
    params: entryParams,
    success: { 200: { description: 'The record', schema: EntryRecordView, example: RECORD_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: await readEntryRecord(deps.db.prisma, params.entryId) }),
  });
}
