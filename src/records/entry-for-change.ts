import { notFound, ProblemError } from '../http/problem.ts';
import type { Tx } from '../platform/db.ts';
import { type LockedEntry, lockEntry, type LockLevel } from './entry-lock.ts';

/**
 * Locks an entry that is still in the event.
 *
 * @throws ProblemError `not-found`; `state-moved-on` when it was withdrawn
 */
export async function lockEntryForChange(tx: Tx, entryId: string, level?: LockLevel): Promise<LockedEntry> {
  const entry = await lockEntry(tx, entryId, level);
  if (entry === undefined) throw notFound('entry');
  if (!entry.facts.withdrawn) return entry;
  throw entryWithdrawn();
}

/** The refusal of whatever wants to change an entry that is out of the event. */
export function entryWithdrawn(): ProblemError {
  return new ProblemError('state-moved-on', 'The entry was withdrawn.', { currentState: 'withdrawn' });
}
