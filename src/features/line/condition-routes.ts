import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { type Actor, INSPECTORS } from '../../domain/actor.ts';
import { Id, text } from '../../http/frame/common-schemas.ts';
import { ChangedClearance, viewClearance } from '../../http/views/clearance-view.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { assertNoInterest } from '../../records/conflict-of-interest.ts';
import { lockEntryForChange, stateOf } from '../../records/locks/entry-lock.ts';
import { recordCarHistory, recordEntryHistory } from '../../records/history/history.ts';
import { findConditionEntry, updateDone } from './store.ts';

const CompleteCondition = z
  .strictObject({ note: text(500).optional().describe('What was found, for example the torque measured') })
  .meta({ id: 'CompleteCondition' });

/** Conditions of a sign-off. */
export async function conditionRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/conditions/:conditionId/done',
    operationId: 'completeCondition',
    summary: 'Note that a condition is met',
    description: 'By an inspector who saw it, never on an own car. What the gate says changes at once.',
    tag: 'Clearance',
    access: INSPECTORS,
    params: z.strictObject({ entryId: Id, conditionId: Id }),
    body: CompleteCondition,
    bodyOptional: true,
    bodyExample: { note: 'All wheels at 115 N·m' },
    success: {
      200: {
        description: 'Met; what the gate says now',
        schema: ChangedClearance,
        example: {
          entryId: '019ab8f0-0000-7000-8000-0000000000e1',
          carNumber: '42',
          clearance: {
            admit: true,
            status: 'clear',
            reason: 'Signed off at the tech line.',
            validUntil: '2026-06-14T22:00:00.000Z',
            conditions: [],
          },
        },
      },
    },
    problems: ['not-found', 'conflict-of-interest', 'state-moved-on'],
    handle: async ({ params, body, actor, request }) => ({
      status: 200,
      body: await completeCondition(deps, actor, { ...params, note: body.note, requestId: request.id }),
    }),
  });
}

/**
 * Notes that a condition of the sign-off is met. A car that was held because the condition was past due is clear again.
 *
 * @throws ProblemError `not-found`, `conflict-of-interest`, `state-moved-on` (done already, of an older sign-off, or
 *   the entry was withdrawn)
 */
async function completeCondition(
  deps: Deps,
  actor: Actor,
  input: { entryId: string; conditionId: string; note: string | undefined; requestId: string },
): Promise<ChangedClearance> {
  const { entryId, conditionId, note, requestId } = input;
  const now = deps.clock.now();
  return inTransaction(deps.db.prisma, async (tx) => {
    const entry = await lockEntryForChange(tx, entryId, 'change');
    if ((await findConditionEntry(tx, conditionId)) !== entryId) throw notFound('condition');
    await assertNoInterest(tx, actor, entryId);
    const open = entry.facts.conditions.some((condition) => condition.id === conditionId);
    if (!open || !(await updateDone(tx, { conditionId, note, actor, at: now }))) {
      throw new ProblemError('state-moved-on', 'This condition is not open any more.', { currentState: 'closed' });
    }
    const event = { type: 'condition-done', conditionId } as const;
    const ofCar = { type: 'car-condition-done', conditionId } as const;
    await recordCarHistory(tx, entry.car, {
      actor,
      at: now,
      action: 'car.condition-done',
      happening: ofCar,
      requestId,
    });
    await recordEntryHistory(tx, entry, { actor, at: now, action: 'condition.done', happening: event, requestId });
    return { entryId, carNumber: entry.carNumber, clearance: viewClearance(stateOf(entry), now) };
  });
}
