import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { defineJob } from '../../platform/queue/job.ts';
import { inThreadForJob } from '../../http/body/in-thread.ts';
import type { RunTask } from '../../records/judging/trial-inspections.ts';
import { failTask, finishTask, reportProgress, startTask } from '../../records/tasks.ts';
import { runTrial, TrialImpossible } from './trial-run.ts';

const Payload = z.strictObject({ trialId: z.uuid() });
const ATTEMPTS = 5;
const REPORT_EVERY = 200;

/**
 * Judges the declarations of a trial and writes the result into its task, and nothing else anywhere. A worker that is
 * lost leaves nothing behind: the next one begins anew and overwrites the progress.
 */
export const trialJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: 'rule-set.trial',
  payload: Payload,
  attempts: ATTEMPTS,
  backoffMs: 2000,
  async handle(deps, { trialId }, context) {
    const db = deps.db.prisma;
    const task = await startTask(db, trialId, deps.clock.now());
    if (task === undefined) return;
    const caller = task.createdBy.tokenId;
    try {
      let reported = 0;
      const report = async (done: number, total: number) => {
        if (done > 0 && done - reported < REPORT_EVERY) return;
        reported = done;
        await reportProgress(db, trialId, { done, total });
      };
      const runTask: RunTask = (task, input) => inThreadForJob(deps.threads, task, input, caller);
      const { judged, result } = await runTrial({ db, runTask, report }, task);
      await finishTask(db, trialId, { done: judged, total: judged, result, at: deps.clock.now() });
      context.log.info({ trialId, judged, flipped: result.totals.flipped }, 'trial done');
    } catch (error) {
      const isImpossible = error instanceof TrialImpossible;
      if (isImpossible || context.attempt >= ATTEMPTS) {
        const why = isImpossible
          ? error.message
          : 'The server failed while it judged. Nothing was changed; start it again.';
        await failTask(db, trialId, why, deps.clock.now());
      }
      if (!isImpossible) throw error;
      context.log.warn({ trialId, error }, 'trial cannot be done');
    }
  },
});
