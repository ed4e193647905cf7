import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import { type Actor, STAFF } from '../../../domain/actor.ts';
import { Id } from '../../../http/frame/common-schemas.ts';
import { notFound, ProblemError } from '../../../http/frame/problem.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { inTransaction, type Tx } from '../../../platform/database/db.ts';
import { appendOutbox } from '../../../platform/queue/outbox.ts';
import { createTask, findTask, listTaskItems, type StoredTask } from '../../../records/tasks.ts';
import {
  EntryOutcome,
  REJUDGE_EXAMPLE,
  RejudgeInput,
  REJUDGEMENT_EXAMPLE,
  rejudgementParams,
  RejudgementView,
} from './schemas.ts';
import { findGroup } from './store.ts';
import { rejudgeJob } from './rejudge.job.ts';

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

/**
 * Orders that a run group is judged anew under the rules it has now. The hash says which rules the caller means.
 *
 * @throws ProblemError `not-found`; `state-moved-on` with `rulesHash` when the group has other rules
 */
async function askRejudgement(
  deps: Deps,
  actor: Actor,
  ids: { eventId: string; runGroupId: string },
  asked: { body: RejudgeInput; requestId: string },
): Promise<RejudgementView> {
  const { body, requestId } = asked;
  return inTransaction(deps.db.prisma, async (tx) => {
    const group = await findGroup(tx, ids);
    if (group === undefined) throw notFound('run group');
    if (group.resolvedHash !== body.rulesHash) {
      const detail = 'The run group has other rules than those of this hash.';
      throw new ProblemError('state-moved-on', detail, { rulesHash: group.resolvedHash });
    }
    const at = deps.clock.now();
    const task = await createTask(tx, { kind: 'rejudgement', subjectId: ids.runGroupId, request: body, actor, at });
    await appendOutbox(tx, { name: rejudgeJob.name, payload: { taskId: task.taskId }, requestId });
    return viewRejudgement(tx, task);
  });
}

/** @throws ProblemError `not-found` */
async function readRejudgement(deps: Deps, rejudgementId: string): Promise<RejudgementView> {
  const task = await findTask(deps.db.prisma, 'rejudgement', rejudgementId);
  if (task === undefined) throw notFound('re-judgement');
  return viewRejudgement(deps.db.prisma, task);
}

async function viewRejudgement(db: Tx, task: StoredTask): Promise<RejudgementView> {
  const { rulesHash, reason } = task.request as RejudgeInput;
  const items = await listTaskItems(db, task.taskId);
  const entries = items.map((item) => EntryOutcome.parse(item.outcome));
  return {
    rejudgementId: task.taskId,
    runGroupId: task.subjectId,
    rulesHash,
    reason,
    state: task.state,
    done: items.length,
    total: task.total,
    ...(task.error === null ? {} : { error: task.error }),
    entries: entries.toSorted((a, b) => a.carNumber.localeCompare(b.carNumber, 'en', { numeric: true })),
    requestedBy: task.createdBy.name,
    requestedAt: task.createdAt.toISOString(),
    ...(task.finishedAt === null ? {} : { finishedAt: task.finishedAt.toISOString() }),
  };
}
