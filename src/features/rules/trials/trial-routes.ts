import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { Id } from '../../../http/frame/common-schemas.ts';
import { decodeCursor, toPage } from '../../../http/frame/cursor.ts';
import { type FieldError, nameFaults, notAcceptable, notFound, ProblemError } from '../../../http/frame/problem.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { inTransaction, type Tx } from '../../../platform/database/db.ts';
import { appendOutbox } from '../../../platform/queue/outbox.ts';
import { checkRules, rulesAsText } from '../../../records/judging/rules.ts';
import { createTask, findTask, listTasks, type StoredTask, type TaskSummary } from '../../../records/tasks.ts';
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
  type TrialResult,
  type TrialSummary,
  TrialView,
} from './schemas.ts';
import { findDraft, findEvents, findVersion, type TrialRequest, type Tried } from './store.ts';
import { trialJob } from './trial.job.ts';

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

/**
 * Orders a trial of a draft, which is frozen as it is now, or of a published version. The worker judges.
 *
 * @throws ProblemError `not-found` (the rule set), `not-acceptable` (an event, the version), `rule-set-not-acceptable`
 *   with the faults of the draft, those of `checkRules`
 */
async function startTrial(
  deps: Deps,
  actor: Actor,
  asked: { ruleSetId: string; input: StartTrial; requestId: string },
): Promise<TrialView> {
  const { ruleSetId, input, requestId } = asked;
  const db = deps.db.prisma;
  const draft = await findDraft(db, ruleSetId);
  if (draft === undefined) throw notFound('rule set');
  await assertEventsExist(db, input.eventIds);
  const tried =
    input.version === undefined
      ? await freezeDraft(deps, actor, draft.document)
      : await named(db, ruleSetId, input.version);
  const request: TrialRequest = { eventIds: input.eventIds, tried };
  return inTransaction(db, async (tx) => {
    const at = deps.clock.now();
    const task = await createTask(tx, { kind: 'trial', subjectId: ruleSetId, request, actor, at });
    await appendOutbox(tx, { name: trialJob.name, payload: { trialId: task.taskId }, requestId });
    return viewTrial(task);
  });
}

async function assertEventsExist(db: Tx, eventIds: readonly string[]): Promise<void> {
  const found = await findEvents(db, eventIds);
  const errors = eventIds.flatMap((id, at): FieldError[] => {
    if (found.has(id)) return [];
    return [{ pointer: `/eventIds/${at}`, code: 'unknown-event', detail: `There is no event ${id}.`, in: 'body' }];
  });
  if (errors.length > 0) refuse(errors);
}

async function freezeDraft(deps: Deps, actor: Actor, document: unknown): Promise<Tried> {
  const { check, read } = await checkRules(deps, actor, rulesAsText({ document }));
  if (check.ok && read !== undefined) return { kind: 'draft', contentHash: read.contentHash, document };
  const { faults, moreFaults } = check;
  throw new ProblemError('rule-set-not-acceptable', nameFaults(faults, moreFaults), {
    errors: faults,
    ...(moreFaults > 0 && { moreErrors: moreFaults }),
  });
}

async function named(db: Tx, ruleSetId: string, version: number): Promise<Tried> {
  const found = await findVersion(db, ruleSetId, version);
  if (found !== undefined) return { kind: 'version', contentHash: found.contentHash, version };
  const detail = 'There is no such published version of this rule set.';
  return refuse([{ pointer: '/version', code: 'unknown-version', detail, in: 'body' }]);
}

function refuse(errors: readonly FieldError[]): never {
  throw notAcceptable(errors);
}

function viewTrialSummary(task: TaskSummary): TrialSummary {
  const { taskId, subjectId, state, done, total, error, createdBy, createdAt, startedAt, finishedAt } = task;
  return {
    trialId: taskId,
    ruleSetId: subjectId,
    state,
    done,
    total,
    ...(error === null ? {} : { error }),
    requestedBy: createdBy.name,
    requestedAt: createdAt.toISOString(),
    ...(startedAt === null ? {} : { startedAt: startedAt.toISOString() }),
    ...(finishedAt === null ? {} : { finishedAt: finishedAt.toISOString() }),
  };
}

function viewTrial(task: StoredTask): TrialView {
  // `request` and `result` of a trial are written by this feature only
  const { eventIds, tried } = task.request as TrialRequest;
  const version = tried.kind === 'version' ? { version: tried.version } : {};
  return {
    ...viewTrialSummary(task),
    eventIds: [...eventIds],
    tried: { ...version, contentHash: tried.contentHash },
    ...(task.result === null ? {} : { result: task.result as TrialResult }),
  };
}
