import { mergeTrials } from '../domain/rules/trial-merge.ts';
import { type RuleChange, sideOf, type StoredFinding } from '../domain/rules/trial.ts';
import type { Flip } from '../domain/rules/trial-summary.ts';
import { type TrialSubject, type TrialSummaryView, viewTrialSummary } from '../http/trial-view.ts';
import type { Tx } from '../platform/db.ts';
import type { ThreadTask } from '../platform/thread-task.ts';
import type { SentRules } from './rules.task.ts';
import { findRulesText } from './rules.ts';
import { type TrialPart, trialTask } from './trial.task.ts';
import { readTrialInspections, readWholeFindings, type TrialRow } from './trial-inspections.ts';

/** Declarations read in one statement and judged in one task. */
const BATCH = 25;

/** Runs a task in a thread; how long it waits for its turn is for whoever asks. */
export type RunTask = <I, O>(task: ThreadTask<I, O>, input: I) => Promise<O>;

interface TrialPlan {
  /** the rules tried, as they are listed in the result */
  tried: SentRules;
  /** the rules tried as they judge a run group */
  rulesOf(runGroupId: string): SentRules;
  runTask: RunTask;
  /** told after each batch how many are judged */
  onBatch?(done: number): Promise<void>;
}

/**
 * Judges stored declarations under other rules, compares with the judgements they got, and adds up. Reads only; judging
 * is done in a thread, batch after batch, so that a thread that is lost loses nothing that was done.
 */
export async function tryInspections(db: Tx, ids: readonly string[], plan: TrialPlan): Promise<TrialSummaryView> {
  let whole: TrialPart | undefined;
  let done = 0;
  for await (const batch of readAhead(db, ids)) {
    const part = await judgeBatch(db, batch, plan, whole === undefined);
    whole = whole === undefined ? part : addPart(whole, part);
    done += batch.length;
    await plan.onBatch?.(done);
  }
  const { summary, seen } = whole ?? (await judgeBatch(db, [], plan, true));
  return viewTrialSummary({ ...summary, flips: await withStoredSides(db, summary.flips) }, seen);
}

function addPart(one: TrialPart, other: TrialPart): TrialPart {
  const seen = {
    hadConcession: one.seen.hadConcession + other.seen.hadConcession,
    unreadable: one.seen.unreadable + other.seen.unreadable,
  };
  return { summary: mergeTrials(one.summary, other.summary), seen };
}

async function judgeBatch(db: Tx, batch: readonly TrialRow[], plan: TrialPlan, isFirst: boolean): Promise<TrialPart> {
  const rules = new Map([[plan.tried.key, plan.tried]]);
  const ruleOf: Record<string, string> = {};
  const inspections = [];
  for (const { json, runGroupId, hadConcession, ...ref } of batch) {
    const tried = plan.rulesOf(runGroupId);
    const before = hadConcession ? await findRulesText(db, ref) : undefined;
    for (const one of [tried, before]) if (one !== undefined) rules.set(one.key, one);
    ruleOf[runGroupId] = tried.key;
    inspections.push({ json, beforeKey: before?.key });
  }
  const input = { rules: [...rules.values()], listed: plan.tried.key, ruleOf, inspections, isFirst };
  return plan.runTask(trialTask, input);
}

/** Batch after batch; the database reads the next one while this one is judged. */
async function* readAhead(db: Tx, ids: readonly string[]): AsyncGenerator<TrialRow[]> {
  let reading = readTrialInspections(db, ids.slice(0, BATCH));
  for (let from = 0; from < ids.length; from += BATCH) {
    const batch = await reading;
    reading = readTrialInspections(db, ids.slice(from + BATCH, from + 2 * BATCH));
    // When judging fails nobody waits for it any more; when it fails itself, the next turn says so.
    reading.catch(() => undefined);
    yield batch;
  }
}

/** The flips with what the stored findings say of the rules that explain them: values, limits and messages. */
async function withStoredSides(db: Tx, flips: readonly Flip<TrialSubject>[]): Promise<Flip<TrialSubject>[]> {
  const whole: Flip<TrialSubject>[] = [];
  for (let from = 0; from < flips.length; from += BATCH) {
    const batch = flips.slice(from, from + BATCH);
    const ruleIds = new Set(batch.flatMap((flip) => flip.because.filter(isShort).map((change) => change.ruleId)));
    const ids = batch.map((flip) => flip.subject.inspectionId);
    const stored = ruleIds.size === 0 ? NOTHING_READ : await readWholeFindings(db, ids, [...ruleIds]);
    whole.push(...batch.map((flip) => withSides(flip, stored.get(flip.subject.inspectionId) ?? [])));
  }
  return whole;
}

const NOTHING_READ: ReadonlyMap<string, StoredFinding[]> = new Map();

/** A side that was read in short. Where a judgement was made anew, its sides are whole. */
const isShort = ({ before }: RuleChange): boolean => before !== undefined && before.message === undefined;

function withSides(flip: Flip<TrialSubject>, findings: readonly StoredFinding[]): Flip<TrialSubject> {
  const because = flip.because.map((change) => {
    const stored = findings.find((one) => one.ruleId === change.ruleId && one.position === change.position);
    return isShort(change) && stored !== undefined ? { ...change, before: sideOf(stored) } : change;
  });
  return { ...flip, because };
}
