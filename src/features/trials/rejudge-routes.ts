import type { FastifyInstance } from 'fastify';
import { STAFF } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { Id } from '../../http/frame/common-schemas.ts';
import { addRoute } from '../../http/frame/route.ts';
import { z } from 'zod';
import { askRejudgement, readRejudgement } from './rejudge-ask.ts';
import {
  REJUDGE_EXAMPLE,
  REJUDGEMENT_EXAMPLE,
  RejudgeInput,
  RejudgementView,
  rejudgementParams,
} from './rejudge-schemas.ts';

const groupParams = z.strictObject({ eventId: Id, runGroupId: Id });

/** Judging a run group anew after its rules changed. Only when an organizer says so. */
export async function rejudgementRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    tag: 'Rule sets',
    access: ['organizer'],
    method: 'POST',
    path: '/events/:eventId/run-groups/:runGroupId/rejudgements',
    operationId: 'rejudgeRunGroup',
    summary: 'Judge a run group anew under the rules it has now',
    description:
      'Declarations that nobody accepted yet are judged under the new rules. Accepted cars stay accepted, unless a rule ' +
      'that was tightened or added says `recall` and is not met: those go back to the line, and their entrants are told.',
    params: groupParams,
    body: RejudgeInput,
    bodyExample: REJUDGE_EXAMPLE,
    success: {
      202: {
        description: 'Ordered; read it again to see how far it is',
        schema: RejudgementView,
        headers: { Location: 'The re-judgement' },
        example: { ...REJUDGEMENT_EXAMPLE, state: 'waiting', done: 0, total: null, entries: [] },
      },
    },
    problems: ['not-found', 'state-moved-on'],
    handle: async ({ params, body, actor, request }) => {
      const view = await askRejudgement(deps, actor, params, { body, requestId: request.id });
      return { status: 202, body: view, headers: { location: `/v1/rejudgements/${view.rejudgementId}` } };
    },
  });
  addRoute(app, {
    tag: 'Rule sets',
    access: STAFF,
    method: 'GET',
    path: '/rejudgements/:rejudgementId',
    operationId: 'getRejudgement',
    summary: 'Read how far a re-judgement is and what came of each car',
    description: 'How far it is, and what came of each car that is done.',
    params: rejudgementParams,
    success: { 200: { description: 'The re-judgement', schema: RejudgementView, example: REJUDGEMENT_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: await readRejudgement(deps, params.rejudgementId) }),
  });
}
