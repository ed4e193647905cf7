import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { entryParams, OptionalIdempotencyKey, text } from '../../http/frame/common-schemas.ts';
import { findIdempotencyKey, once } from '../../http/frame/idempotency.ts';
import { addRoute, type Answer } from '../../http/frame/route.ts';
import { ChangedClearance, viewClearance } from '../../http/views/clearance-view.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { recordEntryHistory } from '../../records/history/history.ts';
import { lockEntryForChange, stateOf } from '../../records/locks/entry-lock.ts';
import { notifyEntrant } from '../../records/notify-entrant.ts';
import { closeTicket } from '../../records/tickets.ts';

interface Withdrawing {
  entryId: string;
  reason: string | undefined;
  /** absent: a repeat is refused */
  key: string | undefined;
  requestId: string;
}

/**
 * Takes an entry out of the event for good: off the line, and the gate says no.
 *
 * @throws ProblemError `not-found`, `state-moved-on` (withdrawn already), `idempotency-key-reused`
 */
async function withdrawEntry(deps: Deps, actor: Actor, withdrawing: Withdrawing): Promise<Answer> {
  const { entryId, reason, key } = withdrawing;
  return inTransaction(deps.stops.prisma, (tx) => {
    const change = async (): Promise<Answer> => ({ status: 200, body: await withdraw(tx, deps, actor, withdrawing) });
    if (key === undefined) return change();
    const body = reason === undefined ? {} : { reason };
    return once(tx, { actor, route: `POST /v1/entries/${entryId}/withdraw`, key, body }, change);
  });
}

async function withdraw(
  tx: Tx,
  deps: Deps,
  actor: Actor,
  { entryId, reason, requestId }: Withdrawing,
): Promise<ChangedClearance> {
  const now = deps.clock.now();
  const entry = await lockEntryForChange(tx, entryId, 'change');
  await closeTicket(tx, entry, 'void', now);
  const data = reason === undefined ? {} : { reason };
  await recordEntryHistory(tx, entry, {
    actor,
    at: now,
    action: 'entry.withdrawn',
    happening: { type: 'withdrawn' },
    data,
    requestId,
  });
  await notifyEntrant(tx, { entryId, kind: 'entry.withdrawn', id: entryId, requestId });
  return { entryId, carNumber: entry.carNumber, clearance: viewClearance(stateOf(entry), now) };
}

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
