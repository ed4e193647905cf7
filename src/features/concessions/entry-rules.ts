import type { ClearanceFacts } from '../../domain/clearance.ts';
import type { Rule, RuleSet } from '../../domain/rules/rule-set.ts';
import { notFound } from '../../http/problem.ts';
import type { Tx } from '../../platform/db.ts';
import { findInspection, type StoredInspection } from '../../records/inspections.ts';
import { findJudgingContext, type JudgingContext } from '../../records/judging-context.ts';
import { getRules, type JudgingRules } from '../../records/rules.ts';

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
