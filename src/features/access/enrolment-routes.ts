import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { baseAddress } from '../../http/frame/error-handler.ts';
import { addRoute } from '../../http/frame/route.ts';
import { createEnrolment, redeemEnrolment } from './enrolments.ts';
import {
  CreateEnrolment,
  ENROLLED_EXAMPLE,
  EnrolledToken,
  ENROLMENT_EXAMPLE,
  ENROLMENT_INPUT_EXAMPLE,
  EnrolmentView,
  REDEEM_EXAMPLE,
  RedeemEnrolment,
} from './enrolment-schemas.ts';

/** Enrolment: how a device of the staff gets its token without anybody typing one. */
export async function enrolmentRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/enrolments',
    neverCompressed: true,
    operationId: 'createEnrolment',
    shownOnce: true,
    summary: 'Make a one-time code for a device of the staff',
    description:
      'Show `url` as a QR code: the first device that redeems it gets a token. The code is shown in this answer only. Organizers enrol any role of the staff, chiefs inspectors and marshals, at events of their own. The token is for the events that `eventIds` names and ends the day after each. The code ends early when the token that made it is revoked.',
    tag: 'Tokens',
    access: ['organizer', 'chief'],
    body: CreateEnrolment,
    bodyExample: ENROLMENT_INPUT_EXAMPLE,
    success: { 201: { description: 'The code, shown once', schema: EnrolmentView, example: ENROLMENT_EXAMPLE } },
    problems: ['not-acceptable'],
    handle: async ({ actor, body, request }) => ({
      status: 201,
      body: await createEnrolment(deps, actor, { base: baseAddress(request), body, requestId: request.id }),
    }),
  });
  addRoute(app, {
    method: 'POST',
    path: '/enrolments/redeem',
    neverCompressed: true,
    operationId: 'redeemEnrolment',
    summary: 'Trade a one-time code for a token',
    description:
      'Needs no token. It works once; looking at an address (GET, HEAD) uses nothing up. Unknown codes count like requests without a valid token.',
    tag: 'Tokens',
    access: 'public',
    body: RedeemEnrolment,
    bodyExample: REDEEM_EXAMPLE,
    success: { 201: { description: 'The token, shown once', schema: EnrolledToken, example: ENROLLED_EXAMPLE } },
    problems: ['unauthenticated', 'enrolment-used', 'enrolment-expired'],
    handle: async ({ body, request }) => ({
      status: 201,
      body: await redeemEnrolment(deps, { code: body.code, requestId: request.id }),
    }),
  });
}
