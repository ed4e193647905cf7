import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { appendOutbox } from '../../platform/queue/outbox.ts';
import { createTask, findTask, listTaskItems, type StoredTask } from '../../records/tasks.ts';
import { rejudgeJob } from './rejudge.job.ts';
import { EntryOutcome, type RejudgeInput, type RejudgementView } from './rejudge-schemas.ts';
import { findGroup } from './rejudge-store.ts';

/**
 * Orders that a run group is judged anew under the rules it has now. The hash says which rules the caller means.
 *
 * @throws ProblemError `not-found`; `state-moved-on` with `rulesHash` when the group has other rules
 */
export async function askRejudgement(
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
export async function readRejudgement(deps: Deps, rejudgementId: string): Promise<RejudgementView> {
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
