import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { entryParams, eventParams, InstantOut, Page } from '../../http/frame/common-schemas.ts';
import { decodeCursor, toPage } from '../../http/frame/cursor.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { type Subject, verifyChain } from '../../records/history/history.ts';
import { findHistory, type FoundHistory, type HistoryRow, listEventHistory } from './store.ts';

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
