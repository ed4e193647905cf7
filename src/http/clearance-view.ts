import { z } from 'zod';
import { CLEARANCE_STATUSES } from '../domain/clearance.ts';
import { type ClearanceState, decideClearance } from '../domain/decide-clearance.ts';
import { Id, InstantOut } from './common-schemas.ts';

export const ConditionView = z.object({
  id: Id.describe('Id of the condition'),
  text: z.string().describe('What must be done'),
  dueAt: InstantOut.optional().describe('Instant by which it must be done; past it the car is held'),
});

export const ClearanceView = z
  .object({
    admit: z.boolean().describe('Whether the gate lets the car onto the track now'),
    status: z.enum(CLEARANCE_STATUSES).describe('Status of the clearance'),
    reason: z.string().describe('One plain sentence'),
    validUntil: InstantOut.nullable().describe('Until when `admit: true` holds if nothing else happens'),
    conditions: z.array(ConditionView).describe('Conditions still open'),
  })
  .meta({ id: 'ClearanceView' });
export type ClearanceView = z.infer<typeof ClearanceView>;

/** What the gate says of an entry at an instant, as callers read it. */
export function viewClearance(state: ClearanceState, now: Date): ClearanceView {
  const answer = decideClearance(state, now);
  return { ...answer, conditions: [...answer.conditions] };
}

/** What a change to an entry leads to at the gate. */
export const ChangedClearance = z
  .object({
    entryId: Id,
    carNumber: z.string().describe('Exact text'),
    clearance: ClearanceView.describe('What the gate says now'),
  })
  .meta({ id: 'ChangedClearance' });
export type ChangedClearance = z.infer<typeof ChangedClearance>;

export const CLEARANCE_EXAMPLE: ClearanceView = {
  admit: false,
  status: 'held',
  reason: 'Held: contact in session 2, left rear corner.',
  validUntil: null,
  conditions: [],
};
