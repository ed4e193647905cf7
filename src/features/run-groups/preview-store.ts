import type { ClearanceFacts } from '../../domain/clearance.ts';
import type { Tx } from '../../platform/db.ts';

export interface GroupEntry {
  entryId: string;
  carNumber: string;
  facts: ClearanceFacts;
  /** the revision that counts and the rules that judged it; null without a declaration that counts */
  judged: {
    inspectionId: string;
    ruleSetId: string;
    ruleSetVersion: number;
    resolvedHash: string | null;
  } | null;
}

/** The entries of a run group with what the gate knows of them, by car number. */
export async function listGroupEntries(db: Tx, runGroupId: string): Promise<GroupEntry[]> {
  return db.$queryRaw<GroupEntry[]>`
    SELECT c.entry_id AS "entryId", c.car_number AS "carNumber", c.facts,
           CASE WHEN i.id IS NULL THEN NULL ELSE jsonb_build_object('inspectionId', i.id, 'ruleSetId', i.rule_set_id,
             'ruleSetVersion', i.rule_set_version, 'resolvedHash', i.resolved_hash)
           END AS judged
    FROM entries e
    JOIN clearances c ON c.entry_id = e.id
    LEFT JOIN inspections i ON i.id = (c.facts #>> '{declared,inspectionId}')::uuid
    WHERE e.run_group_id = ${runGroupId}::uuid
    ORDER BY c.car_number`;
}

/** What was declared with a revision. */
export async function findAnswers(db: Tx, inspectionId: string): Promise<unknown> {
  return (await db.inspection.findUniqueOrThrow({ where: { id: inspectionId }, select: { answers: true } })).answers;
}
