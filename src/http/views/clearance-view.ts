import { z } from 'zod';
import type { Role } from '../../domain/actor.ts';
import {
  CLEARANCE_STATUSES,
  type ClearanceFacts,
  type ClearanceStatus,
  type OpenCondition,
} from '../../domain/clearance/clearance.ts';
import { type Concession, MANY_CONCESSIONS } from '../../domain/clearance/concession.ts';
import { type ClearanceState, decideClearance } from '../../domain/clearance/decide-clearance.ts';
import type { Rule } from '../../domain/rules/model/rule-set.ts';
import { Id, InstantOut } from '../frame/common-schemas.ts';

/** What a refused caller can do instead: in words for a person, and as an operation of this API for a program. */
interface WayOut {
  words: string;
  /** method and path, with the ids filled in where they are known */
  operation: string;
  /** who may call it */
  roles: readonly Role[];
}

const AT_THE_LINE: readonly Role[] = ['inspector', 'chief'];

/** For a car that has been through the line, or is declared and on no line. */
export function wayBackToLine(entryId: string): WayOut {
  return {
    words: 'An inspector can put it back on the line.',
    operation: `POST /v1/entries/${entryId}/back-to-line`,
    roles: [...AT_THE_LINE, 'organizer'],
  };
}

/** For a car without a declaration that counts, whatever the window says. */
export function wayToDeclareAtLine(entryId: string): WayOut {
  return {
    words: 'An inspector can declare it at the line, together with the entrant.',
    operation: `POST /v1/entries/${entryId}/inspections`,
    roles: AT_THE_LINE,
  };
}

/** The way on the line for an entry that is not on it; undefined when there is none: it is out of the event. */
export function wayToLine(
  entry: { entryId: string; facts: ClearanceFacts },
  status: ClearanceStatus,
): WayOut | undefined {
  if (entry.facts.withdrawn) return undefined;
  if (entry.facts.declared === undefined || status === 'barred') return wayToDeclareAtLine(entry.entryId);
  return wayBackToLine(entry.entryId);
}

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
  return { ...answer, conditions: viewConditions(answer.conditions) };
}

/** Open conditions as callers read them. */
export const viewConditions = (conditions: readonly OpenCondition[]): ClearanceView['conditions'] =>
  conditions.map(({ id, text, dueAt }) => (dueAt === undefined ? { id, text } : { id, text, dueAt }));

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

/** A concession in force, as shown wherever the car is looked at. */
export const ConcessionInForce = z
  .object({
    concessionId: Id,
    ruleId: z.string().describe('The one rule it covers'),
    title: z.string().describe('What the rule judges'),
    reason: z.string().describe('Why this car may run all the same'),
    expiresAt: InstantOut.describe('From this instant on the rule counts again'),
    condition: z.string().optional().describe('What it asks for'),
  })
  .meta({ id: 'ConcessionInForce' });
export type ConcessionInForce = z.infer<typeof ConcessionInForce>;

export const ManyConcessions = z
  .literal(true)
  .optional()
  .describe(`Set on a car with ${MANY_CONCESSIONS} or more concessions in force: look at it as a whole`);

/** Concessions in force in the order of their rules. */
export function viewInForce(concessions: readonly Concession[], rules: readonly Rule[]): ConcessionInForce[] {
  return rules.flatMap(({ id, title }) =>
    concessions
      .filter(({ ruleId }) => ruleId === id)
      .map(({ concessionId, ruleId, reason, expiresAt, condition }) => ({
        concessionId,
        ruleId,
        title,
        reason,
        expiresAt,
        ...(condition === undefined ? {} : { condition }),
      })),
  );
}

/** `manyConcessions` where it applies, to be spread into a view. */
export function manyConcessions(inForce: readonly unknown[]): { manyConcessions?: true } {
  return inForce.length >= MANY_CONCESSIONS ? { manyConcessions: true } : {};
}

export const IN_FORCE_EXAMPLE: ConcessionInForce = {
  concessionId: '019ab8f0-0000-7000-8000-000000000151',
  ruleId: 'tyre-age-limit',
  title: 'Tyre age',
  reason: 'Spare set of the demonstration car, checked for hardness and cracks',
  expiresAt: '2026-06-13T16:00:00.000Z',
  condition: 'Tyres looked at again after session 2',
};
