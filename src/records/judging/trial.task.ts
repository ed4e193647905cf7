import { parseAnswers } from '../../domain/declaration/declaration.ts';
import type { Counts, Judgement, Result } from '../../domain/rules/model/finding.ts';
import { NO_CHANGES } from '../../domain/rules/overlay/overlay.ts';
import type { StoredFinding, StoredJudgement } from '../../domain/rules/trial/trial.ts';
import { openTrial, type TrialSummary } from '../../domain/rules/trial/trial-summary.ts';
import type { TrialSubject } from '../../http/views/trial-view.ts';
import { defineThreadTask } from '../../platform/threads/thread.ts';
import { judgeEntry } from './judge-entry.ts';
import { overridesOf } from './rules.ts';
import { compiledFrom, type SentRules } from './rules.task.ts';
import { codedFindings } from './inspections.ts';
import type { TrialInspection } from './trial-inspections.ts';

/** Some declarations of a trial, with all that judging them needs. */
export interface TrialBatch {
  /** rules that are tried or that judged before */
  rules: readonly SentRules[];
  /** the rules tried, as they are listed in the result: a key of `rules` */
  listed: string;
  /** keys of the rules tried, by run group */
  ruleOf: Readonly<Record<string, string>>;
  /** JSON of each; `beforeKey` names the rules that judged it, where it is judged by them again */
  inspections: readonly { json: string; beforeKey?: string | undefined }[];
  /** the first batch of its trial lists rules that judged nobody too */
  isFirst: boolean;
}

/** What came of a batch; the parts of a trial are put together by `mergeTrials`. */
export interface TrialPart {
  summary: TrialSummary<TrialSubject>;
  seen: { hadConcession: number; unreadable: number };
}

/** Judges stored declarations under other rules and compares with the judgements they got. */
export const trialTask = defineThreadTask<TrialBatch, TrialPart>({
  name: 'trial.judge',
  processorMs: 5000,
  clockMs: 60_000,
  run({ rules, listed, ruleOf, inspections, isFirst }) {
    const sent = new Map(rules.map((one) => [one.key, one]));
    const find = (key = '') => {
      const one = sent.get(key);
      if (one === undefined) throw new Error('a trial names rules that were not sent');
      return compiledFrom(one);
    };
    const tally = openTrial<TrialSubject>(find(listed).ruleSet);
    const readFindings = openFindingReader();
    const seen = { hadConcession: 0, unreadable: 0 };
    for (const { json, beforeKey } of inspections) {
      // Written by the statement that reads it.
      const inspection = JSON.parse(json) as TrialInspection;
      const judge = (key: string | undefined, hash: string | null) => judgeAgain(inspection, find(key), hash);
      const after = judge(ruleOf[inspection.runGroupId], TRIED);
      // Concessions count on neither side: they were given for one version of one rule, and would hide who needs one.
      // Only where the stored judgement had one is it made anew without, under the rules that made it.
      const stored = { verdict: inspection.verdict, findings: readFindings(inspection.findings) };
      const again = () => judge(beforeKey, inspection.resolvedHash).judgement;
      const told = { rules: () => find(beforeKey), stored, again, after: after.judgement };
      const before = inspection.hadConcession ? again() : toldBefore(inspection, told);
      tally.add(subjectOf(inspection), before, after.judgement);
      if (inspection.hadConcession) seen.hadConcession += 1;
      if (after.unreadable) seen.unreadable += 1;
    }
    const summary = tally.summary();
    return { summary: isFirst ? summary : { ...summary, rules: summary.rules.filter(judgedAny) }, seen };
  },
});

/**
 * A judgement as it is stored; one of which only what counted is kept, as far as a comparison needs it: by its letters, whose places the rules name.
 * Where the verdict flips, or the places have changed, what was met is told with the help of judging it again.
 */
function toldBefore(
  { vehicle, context, parameters, resolvedHash, codes, verdict }: TrialInspection,
  { rules, stored, again, after }: Told,
): StoredJudgement {
  if (codes === null) return stored;
  const by = { vehicle, event: context.event, parameters: overridesOf({ parameters, resolvedHash }) };
  const coded = codedFindings(rules(), by, codes)?.map(asStored);
  if (coded !== undefined && verdict === after.verdict) return { verdict, findings: coded };
  const kept = new Map(stored.findings.map((finding) => [placeOf(finding), finding]));
  const made = new Map(again().findings.map((finding) => [placeOf(finding), finding]));
  const places = coded ?? [...kept.values(), ...[...made.values()].filter(({ result }) => result === 'met')];
  const findings = places.map((told) => {
    const one = made.get(placeOf(told));
    return one !== undefined && one.result === told.result && one.counts === told.counts ? asStored(one) : told;
  });
  return { verdict, findings };
}

/** With the title as lines of stored findings have it. */
function asStored<F extends StoredFinding>(finding: F): F {
  const title = finding.title.replaceAll(END_OF_LINE, '').replaceAll(END_OF_PART, '');
  return title === finding.title ? finding : { ...finding, title };
}

interface Told {
  /** those that judged it */
  rules: () => ReturnType<typeof compiledFrom>;
  stored: StoredJudgement;
  /** by the same rules, now */
  again: () => Judgement;
  /** under the rules tried */
  after: Judgement;
}

const END_OF_LINE = '\u001e';
const END_OF_PART = '\u001f';
const placeOf = ({ ruleId, position }: StoredFinding): string => `${ruleId}@${position ?? ''}`;

const NO_TIME = new Date(0);
/** stands for the hash of resolved rules: the rules tried have all overrides in them */
const TRIED = 'tried';

/** Reads stored findings as far as `readTrialInspections` has them. The same lines come back for car after car. */
function openFindingReader(): (lines: string) => StoredFinding[] {
  const known = new Map<string, StoredFinding>();
  const readLine = (line: string): StoredFinding => {
    const kept = known.get(line);
    if (kept !== undefined) return kept;
    const [ruleId = '', position = '', result, counts, title = ''] = line.split(END_OF_PART);
    const at = position === '' ? {} : { position };
    // `findings` is written from typed values only
    const finding = { ruleId, title, ...at, result: result as Result, counts: counts as Counts };
    known.set(line, finding);
    return finding;
  };
  return (lines) => (lines === '' ? [] : lines.split(END_OF_LINE).map(readLine));
}

/** At the declaration stage, with the car, the venue and the event days of its submission. */
function judgeAgain(
  inspection: TrialInspection,
  compiled: ReturnType<typeof compiledFrom>,
  resolvedHash: string | null,
): { judgement: Judgement; unreadable: boolean } {
  const { vehicle, context, parameters } = inspection;
  const parsed = parseAnswers(inspection.answers);
  // Answers that a later catalogue cannot read count as not given, as at the line.
  const answers = parsed.ok ? parsed.answers : new Map();
  const judgedWith = { vehicle, parameters, resolvedHash, concessions: [], ...context };
  // Without concessions nothing in a judgement depends on the clock.
  const input = { answers, stage: 'declaration', now: NO_TIME } as const;
  return { judgement: judgeEntry({ compiled, origins: NO_CHANGES }, judgedWith, input), unreadable: !parsed.ok };
}

/** The revision without what was declared. */
function subjectOf(inspection: TrialInspection): TrialSubject {
  const { entryId, carNumber, eventId, runGroupId, inspectionId, accepted } = inspection;
  return { entryId, carNumber, eventId, runGroupId, inspectionId, accepted };
}

const judgedAny = ({ met, notMet, unanswerable, noLongerJudged }: TrialPart['summary']['rules'][number]): boolean =>
  met + notMet + unanswerable + noLongerJudged > 0;
