import { type Concession, concessionsInForce } from '../../domain/concession.ts';
import { type Answers, parseAnswers } from '../../domain/declaration.ts';
import { type DonePoint, doneElsewhere, type OtherAcceptance } from '../../domain/done-elsewhere.ts';
import { type CheckedPoint, withSeenPoints } from '../../domain/line-judgement.ts';
import type { Judgement } from '../../domain/rules/finding.ts';
import type { Rule } from '../../domain/rules/rule-set.ts';
import { notFound } from '../../http/problem.ts';
import type { Tx } from '../../platform/db.ts';
import { listConcessions } from '../../records/concessions.ts';
import { listOtherAcceptances } from '../../records/done-elsewhere.ts';
import { findInspection, type StoredInspection } from '../../records/inspections.ts';
import { judgeEntry } from '../../records/judge-entry.ts';
import { findJudgingContext, type JudgingContext } from '../../records/judging-context.ts';
import { getRules, type JudgingRules } from '../../records/rules.ts';
import { canRead, type ReadChecks, readChecks } from './read-checks.ts';
import type { ClaimState } from './store.ts';

/** Ways to judge a claimed inspection again with what the line found. */
export interface LineJudge {
  answers: Answers;
  concessionsAt(now: Date): Concession[];
  /** points about the car that were done for its other entries */
  done: readonly DonePoint[];
  /** as declared or measured for another entry, with the concessions of today: what the line is asked to look at */
  asDeclared(now: Date): Judgement;
  judge(checks: ReadChecks, now: Date): Judgement;
}

/** A claimed inspection with what judges it. */
export interface AtLine extends LineJudge {
  inspection: StoredInspection;
  context: JudgingContext;
  /** the rules that judge it, in their order */
  rules: readonly Rule[];
}

/**
 * Loads what judged the claimed inspection: the same version of the rules, the same parameters, car and event days as
 * at its submission. Only concessions and photos are those of today: evidence may come and go until the decision.
 *
 * @throws ProblemError `not-found`
 */
export async function judgeAtLine(tx: Tx, claim: ClaimState, now: Date): Promise<AtLine> {
  const inspection = await findInspection(tx, claim.inspectionId);
  const context = await findJudgingContext(tx, claim.entryId);
  if (inspection === undefined || context === undefined) throw notFound('claim');
  const { ruleSetId, ruleSetVersion } = inspection;
  const rules = await getRules(tx, inspection);
  const concessions = await listConcessions(tx, { entryId: claim.entryId, ruleSetId, ruleSetVersion });
  const { photos } = context;
  const others = await listOtherAcceptances(tx, claim.entryId, now);
  const judge = lineJudge(inspection, { rules, concessions, photos, others });
  return { ...judge, inspection, context, rules: rules.compiled.ruleSet.rules };
}

/** Judges an inspection with what judged it when it was submitted, and with the concessions, photos and other entries of today. */
export function lineJudge(
  inspection: Pick<StoredInspection, 'answers' | 'vehicle' | 'parameters' | 'resolvedHash' | 'context'>,
  today: {
    rules: JudgingRules;
    concessions: readonly Concession[];
    photos: JudgingContext['photos'];
    others: readonly OtherAcceptance[];
  },
): LineJudge {
  const { rules, concessions, photos } = today;
  const { vehicle, parameters, resolvedHash } = inspection;
  const parsed = parseAnswers(inspection.answers);
  // Answers that a later catalogue cannot read count as not given, which bars; they never count as fine.
  const answers = parsed.ok ? parsed.answers : new Map();
  const concessionsAt = (now: Date) => concessionsInForce(concessions, rules.compiled.ruleSet.rules, now);
  const done = doneElsewhere(today.others, vehicle).filter((point) => canRead(point, vehicle));
  const judgedWith = { vehicle, parameters, resolvedHash, concessions, ...inspection.context, photos };
  return {
    answers,
    concessionsAt,
    done,
    asDeclared: (now) => {
      const { measured } = readChecks(done, vehicle);
      return judgeEntry(rules, judgedWith, { answers, measured, stage: 'declaration', now });
    },
    judge({ measured: own, seen, checked }, now) {
      const { measured: others } = readChecks(doneOnly(done, checked), vehicle);
      const measured = new Map([...others, ...own]);
      const judgement = judgeEntry(rules, judgedWith, { answers, measured, stage: 'line', now });
      return withSeenPoints(judgement, seen, concessionsAt(now));
    },
  };
}

/** Of the points done elsewhere those that this line did not look at itself. */
export function doneOnly(done: readonly DonePoint[], checked: readonly CheckedPoint[]): DonePoint[] {
  return done.filter(
    ({ item, position }) => !checked.some((check) => check.item === item && check.position === position),
  );
}
