import { z } from 'zod';
import { CONCESSION_STATES, concessionState } from '../../domain/clearance/concession.ts';
import type { ClearanceState } from '../../domain/clearance/decide-clearance.ts';
import { CategoryName, RuleId } from '../../domain/rules/model/rule-set.ts';
import { Id, InstantOut, line, PlannedInstant, text } from '../../http/frame/common-schemas.ts';
import { ChangedClearance, CLEARANCE_EXAMPLE, viewClearance } from '../../http/views/clearance-view.ts';
import type { EntryRules } from './take-effect.ts';
import type { StoredConcession } from './store.ts';

export const GrantConcession = z
  .strictObject({
    ruleId: RuleId.describe('The one rule it covers'),
    reason: text(500).describe('Why this car may run all the same'),
    condition: line(200)
      .optional()
      .describe('What is asked for in return: shown at the line and at the gate, and a condition of an acceptance'),
    coversLaterVersions: z
      .boolean()
      .optional()
      .describe('Cover the rule of this id in later versions of the rule set too; absent: no'),
    expiresAt: PlannedInstant.describe(
      'End of the concession; from this instant on the rule counts again. At the latest as the category of the rule allows, without one when the event ends',
    ),
  })
  .meta({ id: 'GrantConcession' });
export type GrantConcession = z.infer<typeof GrantConcession>;

export const RevokeConcession = z
  .strictObject({ reason: text(300).describe('Why it no longer counts; history keeps it') })
  .meta({ id: 'RevokeConcession' });
export type RevokeConcession = z.infer<typeof RevokeConcession>;

export const ConcessionRecord = z
  .object({
    concessionId: Id,
    entryId: Id,
    ruleId: z.string().describe('The one rule it covers'),
    ruleSetId: Id,
    ruleSetVersion: z.int().describe('The published version it was granted for'),
    coversLaterVersions: z.boolean().describe('Whether it covers the rule in later versions of the rule set too'),
    state: z
      .enum(CONCESSION_STATES)
      .describe(
        'Only `in-force` counts. `awaiting-approval`: the rule is safety-critical and a second person must approve; ' +
          '`not-covering`: the entry is judged by another version, or by a rule that has become safety-critical since',
      ),
    reason: z.string().describe('Why this car may run all the same'),
    condition: z.string().optional().describe('What it asks for'),
    category: CategoryName.optional().describe('Category of the rule, which limits how long it may last'),
    expiresAt: InstantOut,
    grantedBy: z.string().describe('The chief inspector who granted it'),
    grantedAt: InstantOut,
    needsSecondPerson: z.boolean().describe('Whether it counts only once somebody else has approved it'),
    approvedBy: z.string().optional().describe('The second person'),
    approvedAt: InstantOut.optional(),
    revokedBy: z.string().optional().describe('Who took it back'),
    revokedAt: InstantOut.optional(),
    revokeReason: z.string().optional().describe('Why it was taken back'),
  })
  .meta({ id: 'Concession' });
export type ConcessionRecord = z.infer<typeof ConcessionRecord>;

export const ConcessionView = z
  .object({
    ...ConcessionRecord.shape,
    carNumber: ChangedClearance.shape.carNumber,
    clearance: ChangedClearance.shape.clearance,
  })
  .meta({ id: 'ConcessionView' });
export type ConcessionView = z.infer<typeof ConcessionView>;

export const concessionParams = z.strictObject({ concessionId: Id });

export const GRANT_EXAMPLE = {
  ruleId: 'tyre-age-limit',
  reason: 'Spare set of the demonstration car, checked for hardness and cracks',
  condition: 'Tyres looked at again after session 2',
  expiresAt: '2026-06-13T16:00:00.000Z',
};

export const RECORD_EXAMPLE: ConcessionRecord = {
  concessionId: '019ab8f0-0000-7000-8000-000000000151',
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  ruleSetId: '019ab8f0-0000-7000-8000-0000000000f0',
  ruleSetVersion: 1,
  coversLaterVersions: false,
  ...GRANT_EXAMPLE,
  state: 'in-force',
  category: 'minor',
  grantedBy: 'Jonas Aldergaard',
  grantedAt: '2026-06-13T05:50:00.000Z',
  needsSecondPerson: false,
};

export const CONCESSION_EXAMPLE: ConcessionView = {
  ...RECORD_EXAMPLE,
  carNumber: '42',
  clearance: { ...CLEARANCE_EXAMPLE, status: 'in-line', reason: 'Waiting for inspection at the tech line.' },
};

export const APPROVED_EXAMPLE: ConcessionView = {
  ...CONCESSION_EXAMPLE,
  needsSecondPerson: true,
  approvedBy: 'Race office',
  approvedAt: '2026-06-13T05:58:00.000Z',
};

export const REVOKED_EXAMPLE: ConcessionView = {
  ...CONCESSION_EXAMPLE,
  state: 'revoked',
  revokedBy: 'Jonas Aldergaard',
  revokedAt: '2026-06-13T11:20:00.000Z',
  revokeReason: 'A crack was found in the left rear sidewall',
  clearance: { ...CLEARANCE_EXAMPLE, status: 'barred', reason: 'Barred: Tyre age.' },
};

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
