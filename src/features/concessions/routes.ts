import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { entryParams } from '../../http/common-schemas.ts';
import { addRoute } from '../../http/route.ts';
import { grantConcession } from './grant.ts';
import { CONCESSION_EXAMPLE, ConcessionView, GRANT_EXAMPLE, GrantConcession } from './schemas.ts';

/** Concessions: the chief inspector's named, reasoned, expiring exceptions. */
export async function concessionRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/concessions',
    operationId: 'grantConcession',
    summary: 'Grant an exception to one rule for one entry',
    description: 'Covers one rule of one published version until it expires; the gate names it. It cannot be changed.',
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
}
