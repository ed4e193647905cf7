import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { entryParams, InstantOut } from '../../http/common-schemas.ts';
import { notFound } from '../../http/problem.ts';
import { addRoute } from '../../http/route.ts';
import { inTransaction } from '../../platform/db.ts';
import { type Subject, verifyChain } from '../../records/history.ts';
import { findHistory, type FoundHistory, type HistoryRow } from './store.ts';

const HistoryView = z
  .object({
    history: z
      .array(
        z.object({
          of: z
            .enum(['entry', 'car'])
            .describe('Whose row it is: what is said of the car stands in the history of the car'),
          seq: z.int().describe('1 is the first of its entry, or of its car'),
          at: InstantOut,
          action: z.string().describe('What happened, `noun.verb`'),
          actor: z.object({ role: z.string(), name: z.string() }).describe('Who did it; `clock` is time itself'),
          data: z.record(z.string(), z.unknown()).describe('Ids and facts; `event` is what it meant for the clearance'),
          prevHash: z.string().describe('`hash` of the row before, empty on the first'),
          hash: z.string().describe('SHA-256 over this row and `prevHash`'),
        }),
      )
      .describe('Oldest first'),
    intact: z.boolean().describe('Whether the hashes form one unbroken chain, of the entry and of its car'),
    brokenAt: z.int().optional().describe('The first row that does not fit'),
  })
  .meta({ id: 'HistoryView' });

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

function viewRow(of: 'entry' | 'car', row: HistoryRow) {
  const { seq, at, action, actorRole, actorName, data, prevHash, hash } = row;
  return {
    of,
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
  const history = [...rows.map((row) => viewRow('entry', row)), ...carRows.map((row) => viewRow('car', row))];
  const inTime = history.toSorted((a, b) => (a.at === b.at ? 0 : a.at < b.at ? -1 : 1));
  if (!own.intact || car.intact) return { history: inTime, ...own };
  return { history: inTime, ...car };
}

/** The append-only history of an entry. */
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
}
