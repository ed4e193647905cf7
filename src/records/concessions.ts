import type { Tx } from '../platform/db.ts';
import type { GrantedConcession } from './judging-context.ts';

/** The concessions that were granted to an entry for exactly this version of the rules, expired ones included. */
export async function listConcessions(
  db: Tx,
  where: { entryId: string; ruleSetId: string; ruleSetVersion: number },
): Promise<GrantedConcession[]> {
  const { entryId, ruleSetId, ruleSetVersion } = where;
  const rows = await db.concession.findMany({ where: { entryId, ruleSetId, ruleSetVersion }, orderBy: { id: 'asc' } });
  return rows.map((row) => ({
    concessionId: row.id,
    ruleId: row.ruleId,
    reason: row.reason,
    expiresAt: row.expiresAt.toISOString(),
  }));
}
