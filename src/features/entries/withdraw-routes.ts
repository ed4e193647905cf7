import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { ChangedClearance } from '../../http/views/clearance-view.ts';
import { entryParams, OptionalIdempotencyKey, text } from '../../http/frame/common-schemas.ts';
import { findIdempotencyKey } from '../../http/frame/idempotency.ts';
import { addRoute } from '../../http/frame/route.ts';
import { withdrawEntry } from './withdraw.ts';

const WithdrawEntry = z
  .strictObject({ reason: text(300).optional().describe('For the history') })
  .meta({ id: 'WithdrawEntry' });

const DESCRIPTION = `For good: the car leaves the line and the gate says no. Nothing of its history is lost. Send an
\`Idempotency-Key\` where the network may be away.`;

/** Withdrawal of an entry. */
export async function withdrawalRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/withdraw',
    operationId: 'withdrawEntry',
    summary: 'Withdraw an entry',
    description: DESCRIPTION,
    tag: 'Clearance',
    access: ['organizer', 'entrant'],
    stopsCars: true,
    params: entryParams,
    headers: OptionalIdempotencyKey,
    body: WithdrawEntry,
    bodyOptional: true,
    bodyExample: { reason: 'Gearbox failed on the test day' },
    success: {
      200: {
        description: 'Withdrawn',
        schema: ChangedClearance,
        example: {
          entryId: '019ab8f0-0000-7000-8000-0000000000e1',
          carNumber: '42',
          clearance: {
            admit: false,
            status: 'withdrawn',
            reason: 'The entry was withdrawn.',
            validUntil: null,
            conditions: [],
          },
        },
      },
    },
    problems: ['not-found', 'state-moved-on', 'idempotency-key-reused'],
    handle: ({ params, headers, body, actor, request }) => {
      const key = findIdempotencyKey(headers['idempotency-key']);
      return withdrawEntry(deps, actor, { ...params, reason: body.reason, key, requestId: request.id });
    },
  });
}
