import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { entryParams } from '../../http/common-schemas.ts';
import { addRoute } from '../../http/route.ts';
import { liftHold } from './lift.ts';
import { placeHold } from './place.ts';
import { HOLD_EXAMPLE, HoldView, holdParams, LiftHold, PlaceHold } from './schemas.ts';

const LIFTED_EXAMPLE: HoldView = {
  ...HOLD_EXAMPLE,
  liftedBy: 'Jonas Aldergaard',
  liftedAt: '2026-06-13T10:05:00.000Z',
  liftReason: 'Toe link straight, wheel bearing without play',
  clearance: {
    admit: true,
    status: 'clear',
    reason: 'Signed off at the tech line.',
    validUntil: '2026-06-14T22:00:00.000Z',
    conditions: [],
  },
};

/** Holds and lifts, immediate at the gate. */
export async function holdRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/holds',
    operationId: 'placeHold',
    summary: 'Hold a car',
    description: 'Takes the clearance away at once, whatever it was. Several holds can stand; each must be lifted.',
    tag: 'Clearance',
    access: ['organizer', 'chief', 'inspector'],
    params: entryParams,
    body: PlaceHold,
    bodyExample: { reason: HOLD_EXAMPLE.reason },
    success: { 201: { description: 'Held', schema: HoldView, example: HOLD_EXAMPLE } },
    problems: ['not-found', 'state-moved-on'],
    handle: async ({ params, body, actor, request }) => ({
      status: 201,
      body: await placeHold(deps, actor, { entryId: params.entryId, body, requestId: request.id }),
    }),
  });
  addRoute(app, {
    method: 'POST',
    path: '/holds/:holdId/lift',
    operationId: 'liftHold',
    summary: 'Lift a hold',
    description: 'What the car was before counts again, unless the car is to be inspected anew. Never on an own car.',
    tag: 'Clearance',
    access: ['organizer', 'chief'],
    params: holdParams,
    body: LiftHold,
    bodyExample: { reason: 'Toe link straight, wheel bearing without play', requireReinspection: false },
    success: { 200: { description: 'Lifted', schema: HoldView, example: LIFTED_EXAMPLE } },
    problems: ['not-found', 'conflict-of-interest', 'state-moved-on'],
    handle: async ({ params, body, actor, request }) => ({
      status: 200,
      body: await liftHold(deps, actor, { holdId: params.holdId, body, requestId: request.id }),
    }),
  });
}
