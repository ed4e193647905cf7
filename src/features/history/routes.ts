import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { entryParams, InstantOut } from '../../http/common-schemas.ts';
import { notFound } from '../../http/problem.ts';
import { addRoute } from '../../http/route.ts';
import { verifyChain } from '../../records/history.ts';
import { findHistory, type HistoryRow } from './store.ts';

const HistoryView = z
  .object({
    history: z
      .array(
        z.object({
          seq: z.int().describe('1 is the first'),
          at: InstantOut,
          action: z.string().describe('What happened, `noun.verb`'),
          actor: z.object({ role: z.string(), name: z.string() }).describe('Who did it; `clock` is time itself'),
          data: z.record(z.string(), z.unknown()).describe('Ids and facts; `event` is what it meant for the clearance'),
          prevHash: z.string().describe('`hash` of the row before, empty on the first'),
          hash: z.string().describe('SHA-256 over this row and `prevHash`'),
        }),
      )
      .describe('Oldest first'),
    intact: z.boolean().describe('Whether the hashes form one unbroken chain'),
    brokenAt: z.int().optional().describe('The first row that does not fit'),
  })
  .meta({ id: 'HistoryView' });

const EXAMPLE: z.infer<typeof HistoryView> = {
  history: [
    {
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

function chained(row: HistoryRow) {
  const { entryId, seq, action, actorId, actorRole, at, data, prevHash, hash } = row;
  return { entryId, seq, action, actorId, actorRole, at: at.toISOString(), data, prevHash, hash };
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
      const found = await findHistory(deps.db.prisma, params.entryId);
      if (found === undefined) throw notFound('entry');
      const chain = verifyChain(found.rows.map(chained), found.head);
      return { status: 200, body: { history: found.rows.map(viewRow), ...chain } };
    },
  });
}
