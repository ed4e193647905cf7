import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { entryParams } from '../../http/frame/common-schemas.ts';
import { addRoute } from '../../http/frame/route.ts';
import { approveConcession, getConcession, grantConcession, listOfEntry, revokeConcession } from './concessions.ts';
import {
  APPROVED_EXAMPLE,
  CONCESSION_EXAMPLE,
  concessionParams,
  ConcessionRecord,
  ConcessionView,
  GRANT_EXAMPLE,
  GrantConcession,
  RECORD_EXAMPLE,
  RevokeConcession,
  REVOKED_EXAMPLE,
} from './concession-schemas.ts';

/** Concessions: the chief inspector's named, reasoned, expiring exceptions. */
export async function concessionRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/concessions',
    operationId: 'grantConcession',
    summary: 'Grant an exception to one rule for one entry',
    description:
      'Covers one rule of one published version until it expires, later versions only where it says so; the gate names ' +
      'it. It cannot be changed, only revoked. To a safety-critical rule it counts nothing until a second person ' +
      'approves it: look at `state`.',
    tag: 'Clearance',
    access: ['chief'],
    params: entryParams,
    body: GrantConcession,
    bodyExample: GRANT_EXAMPLE,
    success: { 201: { description: 'Granted', schema: ConcessionView, example: CONCESSION_EXAMPLE } },
    problems: ['not-found', 'conflict-of-interest', 'state-moved-on', 'not-acceptable'],
    handle: async ({ params, body, actor, request }) => ({
      status: 201,
      body: await grantConcession(deps, actor, { entryId: params.entryId, body, requestId: request.id }),
    }),
  });
  addReadRoutes(app, deps);
  addDecisionRoutes(app, deps);
}

function addReadRoutes(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'GET',
    path: '/entries/:entryId/concessions',
    operationId: 'listConcessions',
    summary: 'List the concessions of an entry, whatever has become of them',
    description:
      'Those that count, wait for approval, have ended or were revoked, in the order in which they were asked for.',
    tag: 'Clearance',
    access: [...STAFF, 'entrant'],
    params: entryParams,
    success: {
      200: {
        description: 'Oldest first',
        schema: z.object({ concessions: z.array(ConcessionRecord).describe('All that were granted') }),
        example: { concessions: [RECORD_EXAMPLE] },
      },
    },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: { concessions: await listOfEntry(deps, params.entryId) } }),
  });
  addRoute(app, {
    method: 'GET',
    path: '/concessions/:concessionId',
    operationId: 'getConcession',
    summary: 'Read a concession, with its state and what the gate says of the car',
    description: 'State, end and approval, and what the gate says of the car right now.',
    tag: 'Clearance',
    access: [...STAFF, 'entrant'],
    params: concessionParams,
    success: { 200: { description: 'The concession', schema: ConcessionView, example: CONCESSION_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, actor }) => ({
      status: 200,
      body: await getConcession(deps, actor, params.concessionId),
    }),
  });
}

function addDecisionRoutes(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'POST',
    path: '/concessions/:concessionId/approve',
    operationId: 'approveConcession',
    summary: 'Approve a concession to a safety-critical rule, as the second person',
    description: 'From then on it counts. Whoever granted it cannot approve it, nor can people named on the entry.',
    tag: 'Clearance',
    access: ['organizer', 'chief'],
    params: concessionParams,
    success: { 200: { description: 'Approved', schema: ConcessionView, example: APPROVED_EXAMPLE } },
    problems: ['not-found', 'conflict-of-interest', 'second-person-needed', 'state-moved-on'],
    handle: async ({ params, actor, request }) => ({
      status: 200,
      body: await approveConcession(deps, actor, { ...params, requestId: request.id }),
    }),
  });
  addRoute(app, {
    method: 'POST',
    path: '/concessions/:concessionId/revoke',
    operationId: 'revokeConcession',
    summary: 'Take a concession back',
    description: 'Counts at once: the gate goes by the rule again, and a car that it bars leaves the line.',
    tag: 'Clearance',
    access: ['organizer', 'chief'],
    params: concessionParams,
    body: RevokeConcession,
    bodyExample: { reason: 'A crack was found in the left rear sidewall' },
    success: { 200: { description: 'Revoked', schema: ConcessionView, example: REVOKED_EXAMPLE } },
    problems: ['not-found', 'state-moved-on'],
    handle: async ({ params, body, actor, request }) => ({
      status: 200,
      body: await revokeConcession(deps, actor, { ...params, reason: body.reason, requestId: request.id }),
    }),
  });
}
