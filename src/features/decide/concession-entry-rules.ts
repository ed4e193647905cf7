import type { ClearanceFacts } from '../../domain/clearance/clearance.ts';
import type { Rule, RuleSet } from '../../domain/rules/model/rule-set.ts';
import { notFound } from '../../http/frame/problem.ts';
import type { Tx } from '../../platform/database/db.ts';
import { findInspection, type StoredInspection } from '../../records/judging/inspections.ts';
import { findJudgingContext, type JudgingContext } from '../../records/judging/judging-context.ts';
import { getRules, type JudgingRules } from '../../records/judging/rules.ts';

/** The rules that concessions of an entry go by. */
export interface EntryRules {
  ruleSetId: string;
  ruleSetVersion: number;
  rules: readonly Rule[];
  ruleSet: RuleSet;
  judging: JudgingRules;
  context: JudgingContext;
  /** what was judged by them; undefined before the first submission */
  inspection: StoredInspection | undefined;
}

/**
 * The rules that judged the declaration of an entry, as the clearance has it; before its first submission those of its
 * run group.
 *
 * @throws ProblemError `not-found`
 */
export async function getEntryRules(db: Tx, entry: { entryId: string; facts: ClearanceFacts }): Promise<EntryRules> {
  const { declared } = entry.facts;
  const context = await findJudgingContext(db, entry.entryId);
  const inspection = declared === undefined ? undefined : await findInspection(db, declared.inspectionId);
  if (context === undefined) throw notFound('entry');
  const { ruleSetId, ruleSetVersion, resolvedHash } = inspection ?? context;
  const judging = await getRules(db, { ruleSetId, ruleSetVersion, resolvedHash });
  const { ruleSet } = judging.compiled;
  return { ruleSetId, ruleSetVersion, rules: ruleSet.rules, ruleSet, judging, context, inspection };
}
