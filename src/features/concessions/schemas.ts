import { z } from 'zod';
import { RuleId } from '../../domain/rules/rule-set.ts';
import { ChangedClearance, CLEARANCE_EXAMPLE } from '../../http/clearance-view.ts';
import { Id, InstantOut, text } from '../../http/common-schemas.ts';
import { PlannedInstant } from '../../http/event-time.ts';

export const GrantConcession = z
  .strictObject({
    ruleId: RuleId.describe('The one rule it covers'),
    reason: text(500).describe('Why this car may run all the same'),
    expiresAt: PlannedInstant.describe('End of the concession; from this instant on the rule counts again'),
  })
  .meta({ id: 'GrantConcession' });
export type GrantConcession = z.infer<typeof GrantConcession>;

export const ConcessionView = z
  .object({
    concessionId: Id,
    entryId: Id,
    carNumber: ChangedClearance.shape.carNumber,
    ruleId: z.string().describe('The one rule it covers'),
    ruleSetId: Id,
    ruleSetVersion: z.int().describe('The published version it covers; a later version is not covered'),
    reason: z.string().describe('Why this car may run all the same'),
    expiresAt: InstantOut,
    grantedBy: z.string().describe('The chief inspector who granted it'),
    grantedAt: InstantOut,
    clearance: ChangedClearance.shape.clearance,
  })
  .meta({ id: 'ConcessionView' });
export type ConcessionView = z.infer<typeof ConcessionView>;

export const GRANT_EXAMPLE = {
  ruleId: 'tyre-age-limit',
  reason: 'Spare set of the demonstration car, checked for hardness and cracks',
  expiresAt: '2026-06-13T16:00:00.000Z',
};

export const CONCESSION_EXAMPLE: ConcessionView = {
  concessionId: '019ab8f0-0000-7000-8000-000000000151',
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  carNumber: '42',
  ruleSetId: '019ab8f0-0000-7000-8000-0000000000f0',
  ruleSetVersion: 1,
  ...GRANT_EXAMPLE,
  grantedBy: 'Jonas Aldergaard',
  grantedAt: '2026-06-13T05:50:00.000Z',
  clearance: { ...CLEARANCE_EXAMPLE, status: 'in-line', reason: 'Waiting for inspection at the tech line.' },
};
