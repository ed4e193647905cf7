import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { type FieldError, nameFaults, notFound, ProblemError } from '../../http/frame/problem.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { appendOutbox } from '../../platform/queue/outbox.ts';
import { checkRules, rulesAsText } from '../../records/judging/rule-check.ts';
import { createTask, type StoredTask, type TaskSummary } from '../../records/tasks.ts';
import type { StartTrial, TrialResult, TrialSummary, TrialView } from './trial-schemas.ts';
import { findDraft, findEvents, findVersion, type TrialRequest, type Tried } from './trial-store.ts';
import { trialJob } from './trial.job.ts';

/**
 * Orders a trial of a draft, which is frozen as it is now, or of a published version. The worker judges.
 *
 * @throws ProblemError `not-found` (the rule set), `not-acceptable` (an event, the version), `rule-set-not-acceptable`
 *   with the faults of the draft, those of `checkRules`
 */
export async function startTrial(
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
  throw new ProblemError('not-acceptable', errors.map(({ pointer, detail }) => `${pointer}: ${detail}`).join(' '), {
    errors,
  });
}

export function viewTrialSummary(task: TaskSummary): TrialSummary {
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

export function viewTrial(task: StoredTask): TrialView {
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
