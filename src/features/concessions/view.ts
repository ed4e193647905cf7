import { concessionState } from '../../domain/concession.ts';
import type { ClearanceState } from '../../domain/decide-clearance.ts';
import { viewClearance } from '../../http/clearance-view.ts';
import type { EntryRules } from './entry-rules.ts';
import type { ConcessionRecord, ConcessionView } from './schemas.ts';
import type { StoredConcession } from './store.ts';

export function viewRecord(stored: StoredConcession, rules: EntryRules, now: Date): ConcessionRecord {
  const { approval, revocation, condition, category } = stored;
  return {
    concessionId: stored.concessionId,
    entryId: stored.entryId,
    ruleId: stored.ruleId,
    ruleSetId: stored.ruleSetId,
    ruleSetVersion: stored.ruleSetVersion,
    coversLaterVersions: stored.coversLaterVersions,
    state: concessionState(stored, rules, now),
    reason: stored.reason,
    ...(condition === undefined ? {} : { condition }),
    ...(category === undefined ? {} : { category }),
    expiresAt: stored.expiresAt,
    grantedBy: stored.grantedName,
    grantedAt: stored.grantedAt.toISOString(),
    needsSecondPerson: stored.needsSecondPerson,
    ...(approval === undefined ? {} : { approvedBy: approval.name, approvedAt: approval.at.toISOString() }),
    ...(revocation === undefined
      ? {}
      : {
          revokedBy: revocation.name,
          revokedAt: revocation.at.toISOString(),
          revokeReason: revocation.reason,
        }),
  };
}

/** A concession with what the gate says of its car. */
export function viewConcession(
  stored: StoredConcession,
  entry: { carNumber: string; state: ClearanceState },
  rules: EntryRules,
  now: Date,
): ConcessionView {
  const { carNumber, state } = entry;
  return { ...viewRecord(stored, rules, now), carNumber, clearance: viewClearance(state, now) };
}
