import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { entryParams, eventParams, Id, InstantOut, Page } from '../../http/frame/common-schemas.ts';
import { decodeCursor, toPage } from '../../http/frame/cursor.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { type Subject, verifyChain } from '../../records/history/history.ts';
import { findHistory, type FoundHistory, type HistoryRow, listEventHistory, listEvents } from './store.ts';
import { auditEvent, FAULT_KINDS } from './verify.ts';

const row = {
  at: InstantOut,
  action: z.string().describe('What happened, `noun.verb`'),
  actor: z.object({ role: z.string(), name: z.string() }).describe('Who did it; `clock` is time itself'),
  prevHash: z.string().describe('`hash` of the row before, empty on the first'),
  hash: z.string().describe('SHA-256 over this row and `prevHash`'),
};

const HistoryView = z
  .object({
    history: z
      .array(
        z.object({
          of: z
            .enum(['entry', 'car'])
            .describe('Whose row it is: what is said of the car stands in the history of the car'),
          seq: z.int().describe('1 is the first of its entry, or of its car'),
          data: z.record(z.string(), z.unknown()).describe('Ids and facts; `event` is what it meant for the clearance'),
          ...row,
        }),
      )
      .describe('Oldest first'),
    intact: z.boolean().describe('Whether the hashes form one unbroken chain, of the entry and of its car'),
    brokenAt: z.int().optional().describe('The first row that does not fit'),
  })
  .meta({ id: 'HistoryView' });

const EventHistoryView = z
  .object({
    history: z
      .array(
        z.object({
          seq: z.int().describe('1 is the first of the event'),
          data: z
            .record(z.string(), z.unknown())
            .describe(
              'Ids and facts: `from` and `to` of what changed, `reason` where one was given, `days` where they moved',
            ),
          ...row,
        }),
      )
      .describe('Oldest first'),
    next: z.string().optional().describe('`cursor` of the next page; absent on the last one'),
  })
  .meta({ id: 'EventHistory' });

const EVENT_EXAMPLE: z.infer<typeof EventHistoryView> = {
  history: [
    {
      seq: 1,
      at: '2026-06-10T08:12:00.000Z',
      action: 'event.changed',
      actor: { role: 'organizer', name: 'Race office' },
      data: { from: { endsOn: '2026-06-14' }, to: { endsOn: '2026-06-15' }, reason: 'One more day' },
      prevHash: '',
      hash: '6f1c0d1e5a4b3c2d1e0f9a8b7c6d5e4f3a2b1c0d9e8f7a6b5c4d3e2f1a0b9c8d',
    },
  ],
};

const EXAMPLE: z.infer<typeof HistoryView> = {
  history: [
    {
      of: 'entry',
      seq: 1,
      at: '2026-06-06T08:12:00.000Z',
      action: 'entry.created',
      actor: { role: 'organizer', name: 'Race office' },
      data: { carNumber: '42' },
      prevHash: '',
      hash: '6f1c0d1e5a4b3c2d1e0f9a8b7c6d5e4f3a2b1c0d9e8f7a6b5c4d3e2f1a0b9c8d',
    },
  ],
  intact: true,
};

function viewRow({ seq, at, action, actorRole, actorName, data, prevHash, hash }: HistoryRow) {
  return {
    seq,
    at: at.toISOString(),
    action,
    actor: { role: actorRole, name: actorName },
    data: data as Record<string, unknown>,
    prevHash,
    hash,
  };
}

function chained(subject: Subject, row: HistoryRow) {
  const { seq, action, actorId, actorRole, at, data, prevHash, hash } = row;
  return { ...subject, seq, action, actorId, actorRole, at: at.toISOString(), data, prevHash, hash };
}

function viewHistory(entryId: string, found: FoundHistory): z.infer<typeof HistoryView> {
  const { rows, head, carId, carRows, carHead } = found;
  const own = verifyChain(
    rows.map((row) => chained({ entryId }, row)),
    head,
  );
  const car = verifyChain(
    carRows.map((row) => chained({ carId }, row)),
    carHead,
  );
  const view = (of: 'entry' | 'car') => (one: HistoryRow) => ({ of, ...viewRow(one) });
  const history = [...rows.map(view('entry')), ...carRows.map(view('car'))];
  const inTime = history.toSorted((a, b) => (a.at === b.at ? 0 : a.at < b.at ? -1 : 1));
  if (!own.intact || car.intact) return { history: inTime, ...own };
  return { history: inTime, ...car };
}

/** The append-only history of an entry, and of an event itself. */
export async function historyRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/entries/:entryId/history',
    operationId: 'getHistory',
    summary: 'Read what happened to an entry',
    description: 'Every act with who did it and what the gate said right after it, the oldest first.',
    tag: 'Clearance',
    access: [...STAFF, 'entrant'],
    params: entryParams,
    success: { 200: { description: 'Oldest first', schema: HistoryView, example: EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => {
      const found = await inTransaction(deps.db.prisma, (tx) => findHistory(tx, params.entryId), {
        isolationLevel: 'RepeatableRead',
      });
      if (found === undefined) throw notFound('entry');
      return { status: 200, body: viewHistory(params.entryId, found) };
    },
  });
  addRoute(app, {
    method: 'GET',
    path: '/events/:eventId/history',
    operationId: 'getEventHistory',
    summary: 'Read what was changed at an event',
    description:
      'Changes of the event itself, its venue and the rules it brings, run groups, tokens and codes of the staff, and ' +
      'webhooks of the event: who, when, from what to what, and why where it was said. The oldest first, in pages. The ' +
      'audit checks that none is missing.',
    tag: 'Clearance',
    access: ['organizer', 'chief'],
    params: eventParams,
    query: z.strictObject({ ...Page }),
    success: {
      200: {
        description: 'One page, oldest first',
        schema: EventHistoryView,
        headers: { Link: 'The next page, `rel="next"`' },
        example: EVENT_EXAMPLE,
      },
    },
    problems: ['not-found', 'cursor-not-valid'],
    handle: async ({ params: { eventId }, query, request }) => {
      const scope = { list: 'getEventHistory', filters: { eventId } };
      const after = decodeCursor(scope, query.cursor, z.tuple([z.int().min(1)]))?.[0] ?? 0;
      const rows = await listEventHistory(deps.db.prisma, { eventId, after, take: query.limit + 1 });
      if (rows === undefined) throw notFound('event');
      const positionOf = ({ seq }: HistoryRow) => [seq];
      const page = toPage(rows, { scope, limit: query.limit, url: request.url, positionOf });
      return { status: 200, body: { history: page.rows.map(viewRow), next: page.next }, headers: page.headers };
    },
  });
}

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

const AUDIT_EXAMPLE = {
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
    success: { 200: { description: 'What was found', schema: AuditView, example: AUDIT_EXAMPLE } },
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
