import { z } from 'zod';
import { type Concession, MANY_CONCESSIONS } from '../../domain/clearance/concession.ts';
import type { Rule } from '../../domain/rules/model/rule-set.ts';
import { Id, InstantOut } from '../frame/common-schemas.ts';

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
