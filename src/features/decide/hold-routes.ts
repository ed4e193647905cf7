import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { entryParams, OptionalIdempotencyKey } from '../../http/frame/common-schemas.ts';
import { findIdempotencyKey } from '../../http/frame/idempotency.ts';
import { addRoute } from '../../http/frame/route.ts';
import { liftHold } from './lift-hold.ts';
import { placeHold } from './place-hold.ts';
import { HOLD_EXAMPLE, HoldView, holdParams, LiftHold, PlaceHold } from './hold-schemas.ts';

const LIFTED_EXAMPLE: HoldView = {
  ...HOLD_EXAMPLE,
  inspectAgain: [],
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

const PLACE_DESCRIPTION = `Takes the clearance away at once, whatever it was: for every entry of the car (or of the driver), also
for one that is made later. Several holds can stand; each must be lifted. Every member of the staff may place one. An
entrant may stop the own car ("I hit something", "it leaks"): while that hold stands, a repeat is the same one, and only
the staff lifts it. Send an \`Idempotency-Key\` where the network may be away.`;

const LIFT_DESCRIPTION = `The kind of the hold says what must be looked at first (\`inspectAgain\` of the hold): name each point in
\`checks\`, or send the car through the line again with \`requireReinspection\`. The chief inspector may do without, with an
\`exception\` that is kept. Inspectors lift what an entrant said of the own car, and leaks; the rest is the chief's.`;

/** Holds and lifts, immediate at the gate. */
export async function holdRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/holds',
    operationId: 'placeHold',
    summary: 'Hold a car',
    description: PLACE_DESCRIPTION,
    tag: 'Clearance',
    access: [...STAFF, 'entrant'],
    stopsCars: true,
    params: entryParams,
    headers: OptionalIdempotencyKey,
    body: PlaceHold,
    bodyExample: { reason: HOLD_EXAMPLE.reason, kind: HOLD_EXAMPLE.kind },
    success: { 201: { description: 'Held', schema: HoldView, example: HOLD_EXAMPLE } },
    problems: ['not-found', 'state-moved-on', 'not-acceptable', 'idempotency-key-reused'],
    handle: ({ params, headers, body, actor, request }) => {
      const key = findIdempotencyKey(headers['idempotency-key']);
      return placeHold(deps, actor, { entryId: params.entryId, body, key, requestId: request.id });
    },
  });
  addRoute(app, {
    method: 'POST',
    path: '/holds/:holdId/lift',
    operationId: 'liftHold',
    summary: 'Lift a hold',
    description: LIFT_DESCRIPTION,
    tag: 'Clearance',
    access: ['organizer', 'chief', 'inspector'],
    params: holdParams,
    body: LiftHold,
    bodyExample: {
      reason: 'Toe link straight, wheel bearing without play',
      checks: [{ item: 'wheel.bent', result: 'ok' }],
    },
    success: { 200: { description: 'Lifted', schema: HoldView, example: LIFTED_EXAMPLE } },
    problems: ['not-found', 'conflict-of-interest', 'points-not-checked', 'state-moved-on'],
    handle: async ({ params, body, actor, request }) => ({
      status: 200,
      body: await liftHold(deps, actor, { holdId: params.holdId, body, requestId: request.id }),
    }),
  });
}
