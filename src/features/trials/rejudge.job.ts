import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { defineJob } from '../../platform/queue/job.ts';
import { failTask, finishTask, noteTaskItem, reportProgress, type StoredTask, startTask } from '../../records/tasks.ts';
import { rejudgeEntry, RulesMovedOn } from './rejudge-entry.ts';
import type { RejudgeInput } from './rejudge-schemas.ts';
import { countDone, listOpenEntries } from './rejudge-store.ts';

const Payload = z.strictObject({ taskId: z.uuid() });
const ATTEMPTS = 8;
const REPORT_EVERY = 10;

/**
 * Judges every entry of a run group anew, each in its own transaction with the note that it is done: a job that runs
 * twice, or that is killed half-way and starts again, does nothing twice.
 */
export const rejudgeJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: 'run-group.rejudge',
  payload: Payload,
  attempts: ATTEMPTS,
  backoffMs: 2000,
  async handle(deps, { taskId }, context) {
    const db = deps.db.prisma;
    const task = await startTask(db, taskId, deps.clock.now());
    if (task === undefined) return;
    try {
      const done = await judgeAll(deps, task);
      await finishTask(db, taskId, { done, total: done, result: null, at: deps.clock.now() });
    } catch (error) {
      if (error instanceof RulesMovedOn) {
        const says = 'The run group was given other rules meanwhile. Ask again with the hash it has now.';
        return failTask(db, taskId, says, deps.clock.now());
      }
      const says = 'The work broke off. What is listed is done; ask again for the rest.';
      if (context.attempt >= ATTEMPTS) await failTask(db, taskId, says, deps.clock.now());
      throw error;
    }
  },
});

async function judgeAll(deps: Deps, task: StoredTask): Promise<number> {
  const { taskId, subjectId, createdBy } = task;
  const { reason, rulesHash } = task.request as RejudgeInput;
  const open = await listOpenEntries(deps.db.prisma, subjectId, taskId);
  const before = await countDone(deps.db.prisma, taskId);
  const total = before + open.length;
  for (const [index, entryId] of open.entries()) {
    if (index % REPORT_EVERY === 0) await reportProgress(deps.db.prisma, taskId, { done: before + index, total });
    await inTransaction(deps.db.prisma, async (tx) => {
      const what = { taskId, actor: createdBy, reason, rulesHash, now: deps.clock.now() };
      const outcome = await rejudgeEntry(tx, entryId, what);
      // Another worker on the same task was here first: take back what this one did.
      if (!(await noteTaskItem(tx, { taskId, itemId: entryId, outcome }))) throw new AlreadyDone();
    }).catch((error) => {
      if (!(error instanceof AlreadyDone)) throw error;
    });
  }
  return total;
}

class AlreadyDone extends Error {}
