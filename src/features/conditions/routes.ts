import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { INSPECTORS } from '../../domain/actor.ts';
import { ChangedClearance } from '../../http/clearance-view.ts';
import { Id, text } from '../../http/common-schemas.ts';
import { addRoute } from '../../http/route.ts';
import { completeCondition } from './complete.ts';

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
