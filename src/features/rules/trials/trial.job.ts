import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import { inThreadForJob } from '../../../http/body/in-thread.ts';
import type { Tx } from '../../../platform/database/db.ts';
import { defineJob } from '../../../platform/queue/job.ts';
import { TooHeavy } from '../../../platform/threads/thread.ts';
import { fitRulesTask, type SentRules } from '../../../records/judging/rules.task.ts';
import { findRulesText } from '../../../records/judging/rules.ts';
import { listNewestInspections, type RunTask, tryInspections } from '../../../records/judging/trial-inspections.ts';
import { failTask, finishTask, reportProgress, startTask, type StoredTask } from '../../../records/tasks.ts';
import type { TrialResult } from './schemas.ts';
import { listRunGroups, type TrialRequest, type TrialRunGroup } from './store.ts';

const MAX_NOT_APPLIED = 500;

/** A trial that no further try will bring about; the message is for the person who asked for it. */
class TrialImpossible extends Error {}

interface Means {
  db: Tx;
  /** runs a task in a thread, however long it waits for its turn */
  runTask: RunTask;
  report(done: number, total: number): Promise<void>;
}

/**
 * Judges the newest declaration of every entry of the events under the rules tried, as each run group would have them,
 * and compares with the judgement that is stored. Reads only.
 *
 * @throws TrialImpossible when the rules tried cannot be read, or take too long
 */
async function runTrial(means: Means, task: StoredTask): Promise<{ judged: number; result: TrialResult }> {
  try {
    return await tryAll(means, task);
  } catch (error) {
    if (!(error instanceof TooHeavy)) throw error;
    throw new TrialImpossible(
      'These rules take too long to judge, or too much memory. Make them simpler, then try again.',
    );
  }
}

async function tryAll({ db, runTask, report }: Means, task: StoredTask) {
  // written by `startTrial` only
  const { eventIds, tried } = task.request as TrialRequest;
  const document =
    tried.kind === 'draft'
      ? JSON.stringify(tried.document)
      : (await findRulesText(db, { ruleSetId: task.subjectId, ruleSetVersion: tried.version, resolvedHash: null }))
          .document;
  const base = { key: tried.contentHash, document };
  const groups = await fitGroups(runTask, base, await listRunGroups(db, eventIds));
  const ids = await listNewestInspections(db, { eventIds });
  await report(0, ids.length);
  const onBatch = (done: number) => report(done, ids.length);
  const summary = await tryInspections(db, ids, { tried: base, rulesOf: groups.rulesOf, runTask, onBatch });
  return { judged: ids.length, result: { ...summary, notApplied: groups.notApplied } };
}

interface FittedGroups {
  rulesOf(runGroupId: string): SentRules;
  notApplied: TrialResult['notApplied'];
}

/** The rules tried as each run group would have them; groups that change the same share them. */
async function fitGroups(runTask: RunTask, base: SentRules, groups: readonly TrialRunGroup[]): Promise<FittedGroups> {
  const fit = async (layers: TrialRunGroup['layers']) => {
    const fitted = await runTask(fitRulesTask, { document: base.document, layers });
    if (fitted === undefined) throw new TrialImpossible(OTHER_VERSION);
    return fitted;
  };
  const notApplied: TrialResult['notApplied'] = [];
  // Rules that cannot be read are found where there is no group, too.
  const byLayers = new Map([['[]', await fit([])]]);
  const byGroup = new Map<string, SentRules>();
  for (const { layers, eventId, runGroupId, name } of groups) {
    const key = JSON.stringify(layers);
    const fitted = byLayers.get(key) ?? (await fit(layers));
    byLayers.set(key, fitted);
    byGroup.set(runGroupId, fitted.rules);
    notApplied.push(...fitted.notApplied.map((one) => ({ eventId, runGroupId, runGroup: name, ...one })));
  }
  const rulesOf = (runGroupId: string): SentRules => {
    const rules = byGroup.get(runGroupId);
    if (rules === undefined) throw new Error(`run group ${runGroupId} came after the trial began`);
    return rules;
  };
  return { rulesOf, notApplied: notApplied.slice(0, MAX_NOT_APPLIED) };
}

const OTHER_VERSION = 'The rules were written for another version of this server. Check the draft, then try again.';

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
