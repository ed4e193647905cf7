import type { ClearanceFacts } from '../../../domain/clearance/clearance.ts';
import type { Tx } from '../../../platform/database/db.ts';

/** What a calendar tells beside the times of the run group. */
export interface Planned {
  /** name of the event */
  event: string;
  /** what the gate knows of the entry */
  facts: ClearanceFacts;
}

/** Undefined when there is no such entry. */
export async function findPlanned(db: Tx, entryId: string): Promise<Planned | undefined> {
  const select = { facts: true, entry: { select: { event: { select: { name: true } } } } };
  const row = await db.clearance.findUnique({ where: { entryId }, select });
  if (row === null) return undefined;
  // written by the fold of the history only
  return { event: row.entry.event.name, facts: row.facts as unknown as ClearanceFacts };
}
