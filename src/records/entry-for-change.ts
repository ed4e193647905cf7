import { decideClearance } from '../domain/clearance.ts';
import { notFound, ProblemError } from '../http/problem.ts';
import type { Tx } from '../platform/db.ts';
import { type LockedEntry, lockEntry } from './entry-lock.ts';

/**
 * Locks an entry that is still in the event.
 *
 * @throws ProblemError `not-found`; `state-moved-on` when it was withdrawn
 */
export async function lockEntryForChange(tx: Tx, entryId: string, now: Date): Promise<LockedEntry> {
  const entry = await lockEntry(tx, entryId);
  if (entry === undefined) throw notFound('entry');
  if (!entry.facts.withdrawn) return entry;
  const { status } = decideClearance(entry.facts, now);
  throw new ProblemError('state-moved-on', 'The entry was withdrawn.', { currentState: status });
}
