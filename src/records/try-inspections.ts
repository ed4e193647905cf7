import { parseAnswers } from '../domain/declaration.ts';
import type { Judgement } from '../domain/rules/finding.ts';
import type { RuleSet } from '../domain/rules/rule-set.ts';
import { type RuleChange, sideOf, type StoredFinding, type StoredJudgement } from '../domain/rules/trial.ts';
import { type Flip, openTrial } from '../domain/rules/trial-summary.ts';
import { type TrialSubject, type TrialSummaryView, viewTrialSummary } from '../http/trial-view.ts';
import type { Tx } from '../platform/db.ts';
import { openBreather } from '../platform/in-slices.ts';
import { judgeEntry } from './judge-entry.ts';
import { getRules, type JudgingRules } from './rules.ts';
import {
  openFindingReader,
  readTrialInspections,
  readWholeFindings,
  type TrialInspection,
} from './trial-inspections.ts';

/** Declarations read in one statement. */
const BATCH = 25;

interface TrialPlan {
  /** the rules tried, as they are listed in the result */
  tried: RuleSet;
  /** the rules tried as they judge a run group */
  rulesOf(runGroupId: string): JudgingRules;
  /** told after each batch how many are judged */
  onBatch?(done: number): Promise<void>;
}

/** Judges stored declarations under other rules, compares with the judgements they got, and adds up. Reads only. */
export async function tryInspections(db: Tx, ids: readonly string[], plan: TrialPlan): Promise<TrialSummaryView> {
  const tally = openTrial<TrialSubject>(plan.tried);
  const seen = { hadConcession: 0, unreadable: 0 };
  const readFindings = openFindingReader();
  // In one process with the API, a marshal may wait for what runs here, and some facts take long to work out.
  const breathe = openBreather();
  let done = 0;
  for await (const batch of readAhead(db, ids)) {
    for (const inspection of batch) {
      const how = { tried: plan.rulesOf(inspection.runGroupId), readFindings };
      const { before, after, unreadable } = await judgeUnder(db, inspection, how);
      tally.add(subjectOf(inspection), before, after);
      if (inspection.hadConcession) seen.hadConcession += 1;
      if (unreadable) seen.unreadable += 1;
      await breathe();
    }
    done += batch.length;
    await plan.onBatch?.(done);
  }
  const summary = tally.summary();
  return viewTrialSummary({ ...summary, flips: await withStoredSides(db, summary.flips) }, seen);
}

/** Batch after batch; the database reads the next one while this one is judged. */
async function* readAhead(db: Tx, ids: readonly string[]): AsyncGenerator<TrialInspection[]> {
  let reading = readTrialInspections(db, ids.slice(0, BATCH));
  for (let from = 0; from < ids.length; from += BATCH) {
    const batch = await reading;
    reading = readTrialInspections(db, ids.slice(from + BATCH, from + 2 * BATCH));
    // When judging fails nobody waits for it any more; when it fails itself, the next turn says so.
    reading.catch(() => undefined);
    yield batch;
  }
}

/** The revision without what was declared. */
function subjectOf(inspection: TrialInspection): TrialSubject {
  const { entryId, carNumber, eventId, runGroupId, inspectionId, accepted } = inspection;
  return { entryId, carNumber, eventId, runGroupId, inspectionId, accepted };
}

/** The same declaration under the rules that judged it and under others, both without concessions. */
interface TwoJudgements {
  before: StoredJudgement;
  after: Judgement;
  /** a later catalogue cannot read its answers: they count as not given */
  unreadable: boolean;
}

/**
 * Judges a stored declaration under other rules, at the declaration stage, with the car, the venue and the event days
 * of its submission. Concessions count on neither side: they were given for one version of one rule, and would hide
 * who needs one. Only where the stored judgement had one is it made anew without, under the rules that made it.
 */
async function judgeUnder(
  db: Tx,
  inspection: TrialInspection,
  how: { tried: JudgingRules; readFindings(lines: string): StoredFinding[] },
): Promise<TwoJudgements> {
  const parsed = parseAnswers(inspection.answers);
  // Answers that a later catalogue cannot read count as not given, as at the line.
  const answers = parsed.ok ? parsed.answers : new Map();
  const { vehicle, context, parameters, resolvedHash, verdict, hadConcession } = inspection;
  const judge = (rules: JudgingRules, hash: string | null): Judgement => {
    const judgedWith = { vehicle, parameters, resolvedHash: hash, concessions: [], ...context };
    // without concessions nothing in a judgement depends on the clock
    return judgeEntry(rules, judgedWith, { answers, stage: 'declaration', now: NO_TIME });
  };
  const before = hadConcession
    ? judge(await getRules(db, inspection), resolvedHash)
    : { verdict, findings: how.readFindings(inspection.findings) };
  return { before, after: judge(how.tried, TRIED), unreadable: !parsed.ok };
}

const NO_TIME = new Date(0);
/** stands for the hash of resolved rules: the rules tried have all overrides in them */
const TRIED = 'tried';

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
