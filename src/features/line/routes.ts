import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { INSPECTORS, STAFF } from '../../domain/actor.ts';
import { entryParams, eventParams, IdempotencyKey } from '../../http/frame/common-schemas.ts';
import { AcceptLanguage, LANGUAGE_DOCUMENTED, languageHeaders } from '../../http/frame/headers.ts';
import { parseIdempotencyKey } from '../../http/frame/idempotency.ts';
import { addRoute } from '../../http/frame/route.ts';
import { backToLine, SendBack, SentBackView } from './back-to-line.ts';
import {
  CLAIM_LIMITS_EXAMPLE,
  ClaimLimitsView,
  claimTicket,
  getClaimLimits,
  putBackClaim,
  renewClaim,
} from './claim.ts';
import { getLine, getOwnClaim } from './views.ts';
import { CLAIM_EXAMPLE, LINE_EXAMPLE, SENT_BACK_EXAMPLE, SIGN_OFF_EXAMPLE, SIGN_OFF_VIEW_EXAMPLE } from './examples.ts';
import {
  claimParams,
  ClaimTicket,
  ClaimView,
  LeaseView,
  LineView,
  putBackQuery,
  SignOff,
  SignOffView,
} from './schemas.ts';
import { signOffClaim } from './sign-off.ts';

/** The tech line: who is next, claims, sign-off. */
export async function lineRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/events/:eventId/line',
    operationId: 'getLine',
    summary: 'Read the line in the order of turns',
    description: 'Waiting and claimed tickets: the earliest first session first, then by time of submission.',
    tag: 'Line',
    access: STAFF,
    params: eventParams,
    success: { 200: { description: 'The line', schema: LineView, example: LINE_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: await getLine(deps, params.eventId) }),
  });
  addRoute(app, {
    method: 'POST',
    path: '/events/:eventId/line/claims',
    operationId: 'claimTicket',
    summary: 'Take the next car, or the car with a number',
    description: 'A claim is a lease: renew it while you work, or it runs out and the car is free for others.',
    tag: 'Line',
    access: INSPECTORS,
    params: eventParams,
    headers: AcceptLanguage,
    body: ClaimTicket,
    bodyOptional: true,
    bodyExample: { carNumber: '42' },
    success: {
      201: {
        description: 'The car is yours until `expiresAt`',
        schema: ClaimView,
        headers: { Location: 'The claim', ...LANGUAGE_DOCUMENTED },
        example: CLAIM_EXAMPLE,
      },
      204: { description: 'Nobody waits' },
    },
    problems: ['not-found', 'state-moved-on', 'conflict-of-interest'],
    handle: async ({ params, headers, body, actor, request }) => {
      const asked = { eventId: params.eventId, body, accepts: headers, requestId: request.id };
      const claim = await claimTicket(deps, actor, asked);
      if (claim === undefined) return { status: 204 };
      const { view, language } = claim;
      const location = `/v1/claims/${view.claimId}`;
      return { status: 201, body: view, headers: { location, ...languageHeaders(language) } };
    },
  });
  addLimitsRoute(app, deps);
  addLeaseRoutes(app, deps);
  addSignOffRoute(app, deps);
  addBackRoute(app, deps);
}

function addLimitsRoute(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'GET',
    path: '/claims/:claimId/limits',
    operationId: 'getClaimLimits',
    summary: 'Read what the rules ask of a claimed car, as sentences',
    description:
      'One sentence for each limit that can keep the car off the track, by rule and position, in the language of the request. Advice, and what nobody can say yet, is left out.',
    tag: 'Line',
    access: INSPECTORS,
    params: claimParams,
    headers: AcceptLanguage,
    success: {
      200: {
        description: 'The limits',
        schema: ClaimLimitsView,
        headers: LANGUAGE_DOCUMENTED,
        example: CLAIM_LIMITS_EXAMPLE,
      },
    },
    problems: ['not-found'],
    handle: async ({ params, headers, actor }) => {
      const { view, language } = await getClaimLimits(deps, actor, params.claimId, headers);
      return { status: 200, body: view, headers: languageHeaders(language) };
    },
  });
}

function addLeaseRoutes(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'GET',
    path: '/claims/:claimId',
    operationId: 'getClaim',
    summary: 'Read an own claim again',
    description:
      'The car with its points to check as at the claim; for a device that was started anew. Only by who holds it.',
    tag: 'Line',
    access: INSPECTORS,
    params: claimParams,
    headers: AcceptLanguage,
    success: {
      200: { description: 'The claim', schema: ClaimView, headers: LANGUAGE_DOCUMENTED, example: CLAIM_EXAMPLE },
    },
    problems: ['not-found', 'state-moved-on'],
    handle: async ({ params, actor, headers }) => {
      const { view, language } = await getOwnClaim(deps, actor, params.claimId, headers);
      return { status: 200, body: view, headers: languageHeaders(language) };
    },
  });
  addRoute(app, {
    method: 'POST',
    path: '/claims/:claimId/renew',
    operationId: 'renewClaim',
    summary: 'Start the lease anew',
    description: 'The lease counts from now. A claim that ran out can be renewed while nobody else has taken the car.',
    tag: 'Line',
    access: INSPECTORS,
    params: claimParams,
    success: {
      200: {
        description: 'The lease runs until `expiresAt`',
        schema: LeaseView,
        example: { claimId: CLAIM_EXAMPLE.claimId, leaseMinutes: 15, expiresAt: '2026-06-13T05:55:00.000Z' },
      },
    },
    problems: ['not-found', 'state-moved-on'],
    handle: async ({ params, actor, request }) => ({
      status: 200,
      body: await renewClaim(deps, actor, { claimId: params.claimId, requestId: request.id }),
    }),
  });
  addRoute(app, {
    method: 'DELETE',
    path: '/claims/:claimId',
    operationId: 'putBackClaim',
    summary: 'Put the car back in its place',
    description:
      'For an inspector who cannot go on: the ticket waits where it was. Putting back twice is fine. A chief inspector may put back what another holds; revoking a token puts back all that it holds.',
    tag: 'Line',
    access: INSPECTORS,
    params: claimParams,
    query: putBackQuery,
    success: { 204: { description: 'The car waits again, in its old place' } },
    problems: ['not-found', 'state-moved-on'],
    handle: async ({ params, query, actor, request }) => {
      const notHere = query.notHere === 'true';
      await putBackClaim(deps, actor, { claimId: params.claimId, notHere, requestId: request.id });
      return { status: 204 };
    },
  });
}

function addSignOffRoute(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'POST',
    path: '/claims/:claimId/sign-off',
    operationId: 'signOff',
    summary: 'Decide on the car',
    description:
      'A measured value judges its rules again and wins over the declared one. Accepting is refused while a rule bars the car without a concession, or while a point that the rules ask for was not looked at.',
    tag: 'Line',
    access: INSPECTORS,
    params: claimParams,
    headers: IdempotencyKey,
    body: SignOff,
    bodyExample: SIGN_OFF_EXAMPLE,
    success: {
      201: {
        description: 'Decided; the gate answers from it at once',
        schema: SignOffView,
        headers: { 'Idempotency-Replayed': '`true` on the answer to a repeated request' },
        example: SIGN_OFF_VIEW_EXAMPLE,
      },
    },
    problems: [
      'idempotency-key-required',
      'idempotency-key-reused',
      'not-found',
      'conflict-of-interest',
      'state-moved-on',
      'bar-stands',
      'points-not-checked',
      'sticker-taken',
      'answers-not-acceptable',
      'not-acceptable',
    ],
    handle: async ({ params, headers, body, actor, request }) => {
      const key = parseIdempotencyKey(headers['idempotency-key']);
      return signOffClaim(deps, actor, { claimId: params.claimId, key, signOff: body, requestId: request.id });
    },
  });
}

/** The way back on the line for a car that was through it. */
function addBackRoute(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/back-to-line',
    operationId: 'backToLine',
    summary: 'Put a car on the line again',
    description:
      'For a car that was refused, whose sign-off was for a part of the days or has ended, or that must be looked at anew: it waits with what was declared last, also after the declaration window. A sign-off it has no longer counts.',
    tag: 'Line',
    access: ['organizer', 'chief', 'inspector'],
    params: entryParams,
    body: SendBack,
    bodyExample: { reason: 'the leak was mended' },
    success: { 200: { description: 'It waits on the line', schema: SentBackView, example: SENT_BACK_EXAMPLE } },
    problems: ['not-found', 'conflict-of-interest', 'state-moved-on', 'bar-stands'],
    handle: async ({ params, body, actor, request }) => ({
      status: 200,
      body: await backToLine(deps, actor, { entryId: params.entryId, reason: body.reason, requestId: request.id }),
    }),
  });
}
