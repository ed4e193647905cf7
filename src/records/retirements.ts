import type { Tx } from '../platform/database/db.ts';

/** Whether a published version is retired: nothing new may point at it. */
export async function isRetired(db: Tx, ruleSetId: string, version: number): Promise<boolean> {
  const row = await db.ruleSetRetirement.findUnique({ where: { ruleSetId_version: { ruleSetId, version } } });
  return row !== null;
}
