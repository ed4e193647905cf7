import { z } from 'zod';
import type { Says } from '../../domain/rules/says/says.ts';
import type { SaysValue } from '../../domain/rules/says/sentence.ts';
import { dimensionOf, type Dimension } from '../../domain/quantity.ts';

const Value = z.union([
  z.object({
    value: z.number().describe('The limit, in the unit it is judged in'),
    unit: z.string().describe('That unit'),
    decimals: z.number().optional().describe('Decimals it is judged with'),
    inside: z.enum(['above', 'below']).optional().describe('Which side is inside: round to it, never away from it'),
    difference: z.literal(true).optional().describe('A difference: 5 °C are 9 °F'),
  }),
  z.object({ day: z.string().describe('A plain date') }),
  z.object({ text: z.string().describe('Words, in the language of the answer') }),
]);

/** A limit as one sentence. */
export const SaysView = z
  .object({
    text: z.string().describe('True before an answer exists; numbers in the unit they are judged in'),
    template: z
      .string()
      .optional()
      .describe('The same with places `{name}`, to be filled in other units; `{name.number}`: the number without unit'),
    values: z.record(z.string(), Value).optional().describe('What stands in the places of the template'),
    open: z.literal(true).optional().describe('A value is not known yet: it says what to do first'),
  })
  .meta({ id: 'Says' });
export type SaysView = z.infer<typeof SaysView>;

/** What readers have a choice of units for. */
const CHOSEN: readonly Dimension[] = ['length', 'temperature', 'pressure', 'torque'];

const isChosen = (value: SaysValue): boolean => 'unit' in value && CHOSEN.includes(dimensionOf(value.unit));

/** The sentence as callers read it; the template only where its numbers may be wanted in another unit. */
export function viewSays({ text, template, values, isOpen }: Says): SaysView {
  const isConvertible = Object.values(values).some(isChosen);
  return {
    text,
    ...(isConvertible && { template, values: { ...values } }),
    ...(isOpen && { open: true as const }),
  };
}
