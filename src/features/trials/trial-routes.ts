import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { Id } from '../../http/frame/common-schemas.ts';
import { decodeCursor, toPage } from '../../http/frame/cursor.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { findTask, listTasks, type TaskSummary } from '../../records/tasks.ts';
import {
  DONE_EXAMPLE,
  LIST_EXAMPLE,
  ruleSetParams,
  START_EXAMPLE,
  StartTrial,
  TRIAL_EXAMPLE,
  TrialList,
  trialParams,
  trialQuery,
  TrialView,
} from './trial-schemas.ts';
import { startTrial, viewTrial, viewTrialSummary } from './trial-start.ts';
import { findDraft } from './trial-store.ts';

/** Trials: what other rules would have made of the declarations of past events. Organizers only. */
export async function trialRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = { tag: 'Rule sets', access: ['organizer'] } as const;
  const db = deps.db.prisma;
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/rule-sets/:ruleSetId/trial',
    operationId: 'startTrial',
    summary: 'Try rules on the declarations of events',
    description:
      'Orders a trial of the draft as it is now, or of a published version. The newest declaration of every entry of ' +
      'the events is judged again, with what its run group and its venue change, and compared with the judgement it ' +
      'got; concessions count on neither side. Nothing but the trial itself is written and nobody is told.',
    params: ruleSetParams,
    body: StartTrial,
    bodyExample: START_EXAMPLE,
    success: {
      202: {
        description: 'Ordered',
        schema: TrialView,
        headers: { Location: 'The trial' },
        example: TRIAL_EXAMPLE,
      },
    },
    problems: ['not-found', 'not-acceptable', 'rule-set-not-acceptable'],
    handle: async ({ params, body, actor, request }) => {
      const asked = { ruleSetId: params.ruleSetId, input: body, requestId: request.id };
      const trial = await startTrial(deps, actor, asked);
      return { status: 202, body: trial, headers: { location: `/v1/trials/${trial.trialId}` } };
    },
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/rule-sets/:ruleSetId/trials',
    operationId: 'listTrials',
    summary: 'List the trials of a rule set',
    description: 'With the state of each; what came of one is read by its id.',
    params: ruleSetParams,
    query: trialQuery,
    success: {
      200: {
        description: 'One page of trials',
        schema: TrialList,
        headers: { Link: 'The next page, `rel="next"`' },
        example: LIST_EXAMPLE,
      },
    },
    problems: ['not-found', 'cursor-not-valid'],
    handle: async ({ params: { ruleSetId }, query, request }) => {
      const scope = { list: 'listTrials', filters: { ruleSetId } };
      const before = decodeCursor(scope, query.cursor, z.tuple([Id]))?.[0];
      if ((await findDraft(db, ruleSetId)) === undefined) throw notFound('rule set');
      const where = { kind: 'trial', subjectId: ruleSetId } as const;
      const rows = await listTasks(db, where, { limit: query.limit + 1, before });
      const positionOf = (task: TaskSummary) => [task.taskId];
      const page = toPage(rows, { scope, limit: query.limit, url: request.url, positionOf });
      const trials = page.rows.map(viewTrialSummary);
      return { status: 200, body: { trials, next: page.next }, headers: page.headers };
    },
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/trials/:trialId',
    operationId: 'getTrial',
    summary: 'Read a trial',
    description: 'How far it is, then its result: who would change and by which rule.',
    params: trialParams,
    success: { 200: { description: 'The trial', schema: TrialView, example: DONE_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => {
      const task = await findTask(db, 'trial', params.trialId);
      if (task === undefined) throw notFound('trial');
      return { status: 200, body: viewTrial(task) };
    },
  });
}
