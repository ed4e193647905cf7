import { barStands } from '../domain/clearance.ts';
import type { Tx } from '../platform/db.ts';
import type { LockedEntry } from './entry-lock.ts';
import { closeTicket, openTicket } from './tickets.ts';

/**
 * Puts a locked entry on the line anew with what was declared last; whatever ticket it had is void. A car that is barred,
 * or was never declared, cannot wait on the line: it gets there by its next submission. Returns the inspection it waits with.
 */
export async function putOnLine(tx: Tx, entry: LockedEntry, now: Date): Promise<string | undefined> {
  const { declared } = entry.facts;
  await closeTicket(tx, entry, 'void', now);
  if (declared === undefined || declared.bars.some((bar) => barStands(bar, now))) return undefined;
  await openTicket(tx, entry, { inspectionId: declared.inspectionId, queuedAt: now });
  return declared.inspectionId;
}
