import { type ConcessionState, concessionState } from '../../domain/concession.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import type { Tx } from '../../platform/db.ts';
import { lockEntryForChange } from '../../records/entry-for-change.ts';
import type { LockedEntry } from '../../records/entry-lock.ts';
import { type EntryRules, getEntryRules } from './entry-rules.ts';
import { findConcession, type StoredConcession } from './store.ts';

/** A concession as it is while its entry is locked: nobody decides about it meanwhile. */
export interface LockedConcession {
  entry: LockedEntry;
  rules: EntryRules;
  concession: StoredConcession;
  state: ConcessionState;
}

/**
 * Locks the entry of a concession and reads the concession under that lock.
 *
 * @throws ProblemError `not-found`; `state-moved-on` when the entry was withdrawn
 */
export async function lockConcession(tx: Tx, concessionId: string, now: Date): Promise<LockedConcession> {
  const before = await findConcession(tx, concessionId);
  if (before === undefined) throw notFound('concession');
  const entry = await lockEntryForChange(tx, before.entryId);
  const concession = await findConcession(tx, concessionId);
  if (concession === undefined) throw notFound('concession');
  const rules = await getEntryRules(tx, entry);
  return { entry, rules, concession, state: concessionState(concession, rules, now) };
}

const SAYS: Record<ConcessionState, string> = {
  'awaiting-approval': 'It waits for a second person.',
  'in-force': 'It is in force.',
  expired: 'It has expired.',
  revoked: 'It was revoked.',
  'not-covering': 'It does not cover the rules that judge the entry now.',
};

/** The refusal of what cannot be done to a concession in this state. */
export function concessionMovedOn(currentState: ConcessionState): ProblemError {
  return new ProblemError('state-moved-on', SAYS[currentState], { currentState });
}
