import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { eventParams, Id } from '../../http/common-schemas.ts';
import { notFound } from '../../http/problem.ts';
import { addRoute } from '../../http/route.ts';
import { listEvents } from './store.ts';
import { auditEvent } from './verify.ts';

const MAX_ROWS = 2_147_483_647;
const MOST_FAULTS = 200;

const Head = z.object({
  seq: z.int().describe('Rows in the history of the event'),
  hash: z.string().describe('SHA-256 over all of them in order, hex; empty when there are none'),
});

const AuditView = z
  .object({
    eventId: Id,
    intact: z.boolean().describe('Whether everything fits'),
    rows: z.int().describe('History rows read'),
    entries: z.int().describe('Entries held against them'),
    head: Head.describe('Note it down outside of this server: with it a later check sees whether the past was changed'),
    faults: z
      .array(
        z.object({
          kind: z
            .enum(['row-changed', 'entry-chain-broken', 'event-chain-broken', 'clearance-differs', 'head-differs'])
            .describe('What does not fit'),
          carNumber: z.string().optional().describe('The car'),
          entryId: z.string().optional().describe('Its entry'),
          seq: z.int().optional().describe('Number of the row in the history of the entry, or of the event'),
          detail: z.string().describe('In words'),
        }),
      )
      .describe(`At most ${MOST_FAULTS}`),
  })
  .meta({ id: 'Audit' });

const Query = z
  .strictObject({
    seq: z.coerce.number().int().min(0).max(MAX_ROWS).optional().describe('`head.seq` as it was noted down'),
    hash: z.string().max(64).optional().describe('`head.hash` as it was noted down'),
  })
  .refine((query) => (query.seq === undefined) === (query.hash === undefined), 'give seq and hash, or neither');

const EXAMPLE = {
  eventId: '019ab8f0-0000-7000-8000-0000000000e1',
  intact: true,
  rows: 412,
  entries: 96,
  head: { seq: 412, hash: '5d0b2a7c9e1f40d38b6a5c4e3f2d1b0a9c8e7f6d5b4a39281706f5e4d3c2b1a0' },
  faults: [],
};

/** Whether the history of an event is as it was written. */
export async function auditRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    tag: 'Clearance',
    access: ['organizer', 'chief'],
    method: 'GET',
    path: '/events/:eventId/audit',
    operationId: 'auditEvent',
    summary: 'Check that the history of an event was not changed',
    description:
      'Holds every row against its hash, every chain against its head, and what the gate answers from against the fold ' +
      'of the history. Give `seq` and `hash` of an earlier answer to see that the past is still the one of then.',
    params: eventParams,
    query: Query,
    success: { 200: { description: 'What was found', schema: AuditView, example: EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, query }) => {
      if ((await listEvents(deps.db.prisma, params.eventId)).length === 0) throw notFound('event');
      const { seq, hash } = query;
      const noted = seq === undefined || hash === undefined ? undefined : { seq, hash };
      const audit = await auditEvent(deps.db.prisma, params.eventId, noted);
      return { status: 200, body: { ...audit, faults: audit.faults.slice(0, MOST_FAULTS) } };
    },
  });
}
