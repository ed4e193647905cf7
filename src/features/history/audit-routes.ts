import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { eventParams, Id, InstantOut } from '../../http/frame/common-schemas.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { listEvents } from './audit-store.ts';
import { auditEvent, FAULT_KINDS } from './verify.ts';

const MAX_ROWS = 2_147_483_647;
const MOST_FAULTS = 200;

const Head = z.object({
  seq: z.int().describe('Rows of the event that are sealed'),
  hash: z.string().describe('Root of the Merkle tree over them (RFC 9162, SHA-256), hex; empty when there are none'),
});

const AuditView = z
  .object({
    eventId: Id,
    intact: z.boolean().describe('Whether everything fits'),
    rows: z.int().describe('History rows read'),
    sealed: z.int().describe('Rows that are leaves of the tree'),
    unsealed: z.int().describe('Rows after them that wait to be sealed, for a moment after they were written'),
    entries: z.int().describe('Entries held against them'),
    head: Head.describe('Note it down outside of this server: with it a later check sees whether the past was changed'),
    signedHead: z
      .object({
        size: z.int().describe('Rows under it'),
        root: z.string().describe('Root of the tree over them, hex'),
        at: InstantOut.describe('When it was signed'),
        jws: z.string().describe('The head as a compact JWS'),
      })
      .nullable()
      .describe('The newest head that the server signed; null before the first'),
    faults: z
      .array(
        z.object({
          kind: z.enum(FAULT_KINDS).describe('What does not fit'),
          carNumber: z.string().optional().describe('The car'),
          entryId: z.string().optional().describe('Its entry'),
          carId: z.string().optional().describe('The car in the event, where the row is about it in all its entries'),
          seq: z.int().optional().describe('Number of the row in the history of the entry or car, or of the event'),
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
  sealed: 411,
  unsealed: 1,
  head: { seq: 411, hash: '5d0b2a7c9e1f40d38b6a5c4e3f2d1b0a9c8e7f6d5b4a39281706f5e4d3c2b1a0' },
  signedHead: null,
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
      "Holds every row against its hash, every chain against its head, every leaf of the event's Merkle tree against its " +
      'row, the tree against its signed heads, and what the gate answers from against the fold of the history. Give `seq` ' +
      "and `hash` of an earlier answer, of a signed head (`size` and `root`) or of a webhook's message to see that the past " +
      'is still the one of then.',
    params: eventParams,
    query: Query,
    success: { 200: { description: 'What was found', schema: AuditView, example: EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, query }) => {
      if ((await listEvents(deps.db.prisma, params.eventId)).length === 0) throw notFound('event');
      const { seq, hash } = query;
      const noted = seq === undefined || hash === undefined ? undefined : { seq, hash };
      const audit = await auditEvent(deps.db.prisma, params.eventId, noted);
      const signedHead = audit.signedHead && { ...audit.signedHead, at: audit.signedHead.at.toISOString() };
      return { status: 200, body: { ...audit, signedHead, faults: audit.faults.slice(0, MOST_FAULTS) } };
    },
  });
}
