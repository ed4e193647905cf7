import { type Concession, concessionsInForce } from '../../domain/concession.ts';
import { type Answers, parseAnswers } from '../../domain/declaration.ts';
import { withSeenPoints } from '../../domain/line-judgement.ts';
import type { Judgement } from '../../domain/rules/finding.ts';
import type { Rule } from '../../domain/rules/rule-set.ts';
import { notFound } from '../../http/problem.ts';
import type { Tx } from '../../platform/db.ts';
import { listConcessions } from '../../records/concessions.ts';
import { findInspection, type StoredInspection } from '../../records/inspections.ts';
import { judgeEntry } from '../../records/judge-entry.ts';
import { findJudgingContext, type JudgingContext } from '../../records/judging-context.ts';
import { getRules, type JudgingRules } from '../../records/rules.ts';
import type { ReadChecks } from './read-checks.ts';
import type { ClaimState } from './store.ts';

/** Ways to judge a claimed inspection again with what the line found. */
export interface LineJudge {
  answers: Answers;
  concessionsAt(now: Date): Concession[];
  /** as declared, but with the concessions of today: what the line is asked to look at */
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
export async function judgeAtLine(tx: Tx, claim: ClaimState): Promise<AtLine> {
  const inspection = await findInspection(tx, claim.inspectionId);
  const context = await findJudgingContext(tx, claim.entryId);
  if (inspection === undefined || context === undefined) throw notFound('claim');
  const { ruleSetId, ruleSetVersion } = inspection;
  const rules = await getRules(tx, inspection);
  const concessions = await listConcessions(tx, { entryId: claim.entryId, ruleSetId, ruleSetVersion });
  const { photos } = context;
  const judge = lineJudge(inspection, { rules, concessions, photos });
  return { ...judge, inspection, context, rules: rules.compiled.ruleSet.rules };
}

/** Judges an inspection with what judged it when it was submitted, and with the concessions and photos of today. */
export function lineJudge(
  inspection: Pick<StoredInspection, 'answers' | 'vehicle' | 'parameters' | 'resolvedHash' | 'context'>,
  today: { rules: JudgingRules; concessions: readonly Concession[]; photos: JudgingContext['photos'] },
): LineJudge {
  const { rules, concessions, photos } = today;
  const { vehicle, parameters, resolvedHash } = inspection;
  const parsed = parseAnswers(inspection.answers);
  // Answers that a later catalogue cannot read count as not given, which bars; they never count as fine.
  const answers = parsed.ok ? parsed.answers : new Map();
  const concessionsAt = (now: Date) => concessionsInForce(concessions, rules.compiled.ruleSet.rules, now);
  const judgedWith = { vehicle, parameters, resolvedHash, concessions, ...inspection.context, photos };
  return {
    answers,
    concessionsAt,
    asDeclared: (now) => judgeEntry(rules, judgedWith, { answers, stage: 'declaration', now }),
    judge(checks, now) {
      const { measured, seen } = checks;
      const judgement = judgeEntry(rules, judgedWith, { answers, measured, stage: 'line', now });
      return withSeenPoints(judgement, seen, concessionsAt(now));
    },
  };
}
