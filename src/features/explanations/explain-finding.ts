import type { Actor } from '../../domain/actor.ts';
import { GENERAL_CAUTION } from '../../domain/caution-text.ts';
import { type ExplainedRule, explainRule } from '../../domain/rules/explain.ts';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import { findInspection, type StoredInspection } from '../../records/inspections.ts';
import { getRules, type JudgingRules } from '../../records/rules.ts';
import { isSame, type Kept, keptAtLine, keptDeclaration, replay } from './replay.ts';
import type { ExplanationView } from './schemas.ts';
import { findNewestSignOff, type StoredCheck, type StoredSignOff } from './store.ts';
import { viewParameters, viewPositions } from './view.ts';

interface Told {
  explained: ExplainedRule;
  isSame: boolean;
}

/**
 * Tells how a rule came to its findings in a stored inspection, and at the line where it was signed off. An entrant
 * is told of the own inspections only.
 *
 * @throws ProblemError `not-found`: no such inspection, or the rules that judged it have no such rule
 */
export async function explainFinding(
  deps: Deps,
  actor: Actor,
  { inspectionId, ruleId }: { inspectionId: string; ruleId: string },
): Promise<ExplanationView> {
  const db = deps.db.prisma;
  const inspection = await findInspection(db, inspectionId);
  const hidden = actor.role === 'entrant' && inspection?.entryId !== actor.entryId;
  if (inspection === undefined || hidden) throw notFound('inspection');
  const rules = await getRules(db, inspection);
  const told = tell(rules, ruleId, keptDeclaration(inspection));
  if (told === undefined) throw notFound('rule in the rules that judged this inspection');
  const signOff = await findNewestSignOff(db, inspectionId);
  const atLine = signOff && viewAtLine(rules, ruleId, inspection, signOff);
  return { ...viewOf(inspection, told), ...(atLine !== undefined && { atLine }), caution: GENERAL_CAUTION };
}

function tell(rules: JudgingRules, ruleId: string, kept: Kept): Told | undefined {
  const replayed = replay(rules, kept);
  const { input, sent, findings } = kept;
  const { compiled, origins } = rules;
  const explained = explainRule(ruleId, { compiled, origins, input, sent, findings, judged: replayed.judged });
  return explained && { explained, isSame: isSame(ruleId, kept, replayed) };
}

function viewOf(inspection: StoredInspection, told: Told): Omit<ExplanationView, 'atLine' | 'caution'> {
  const { explained, isSame } = told;
  const { ruleId, title, text, expression, condition, items, effect, watch, basis } = explained;
  const { ruleSetVersion } = inspection;
  return {
    inspectionId: inspection.inspectionId,
    entryId: inspection.entryId,
    carNumber: inspection.carNumber,
    revision: inspection.revision,
    ruleSetId: inspection.ruleSetId,
    ruleSetVersion,
    rule: {
      ruleId,
      title,
      text,
      ...(expression !== undefined && { expression }),
      ...(condition !== undefined && { condition }),
      items,
      effect,
      watch,
      origin: {
        from: explained.origin.from,
        ...(explained.origin.from === 'rule-set' && { version: ruleSetVersion }),
        ...(explained.origin.changed !== undefined && { changed: explained.origin.changed }),
      },
      basis,
    },
    parameters: viewParameters(explained.parameters, ruleSetVersion),
    applies: explained.applies,
    ...(explained.applies ? {} : { reason: explained.reason }),
    positions: viewPositions(explained.positions),
    notAt: explained.notAt,
    judgedAgain: isSame ? 'same' : 'differs',
  };
}

/** Points the inspector marked at items the rule reads. */
function seenFor(explained: ExplainedRule, checks: readonly StoredCheck[]): StoredCheck[] {
  const keys = explained.items.map((item) => item.key);
  return checks.filter((check) => check.result !== undefined && keys.includes(check.item));
}

function viewAtLine(
  rules: JudgingRules,
  ruleId: string,
  inspection: StoredInspection,
  signOff: StoredSignOff,
): ExplanationView['atLine'] {
  const told = tell(rules, ruleId, keptAtLine(inspection, signOff));
  if (told === undefined) return undefined;
  const { explained, isSame } = told;
  return {
    signOffId: signOff.signOffId,
    decision: signOff.decision,
    signedBy: signOff.signedName,
    signedAt: signOff.signedAt.toISOString(),
    applies: explained.applies,
    ...(explained.applies ? {} : { reason: explained.reason }),
    positions: viewPositions(explained.positions),
    notAt: explained.notAt,
    seen: seenFor(explained, signOff.checks).map(({ item, position, result, note }) => ({
      item,
      ...(position !== undefined && { position }),
      result: result ?? 'not-ok',
      ...(note !== undefined && { note }),
    })),
    judgedAgain: isSame ? 'same' : 'differs',
  };
}
