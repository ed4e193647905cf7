import type { StoredTask, TaskSummary } from '../../records/tasks.ts';
import type { TrialResult, TrialSummary, TrialView } from './schemas.ts';
import type { TrialRequest } from './store.ts';

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
