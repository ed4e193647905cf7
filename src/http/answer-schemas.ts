import { z } from 'zod';

const Options = z.array(z.string()).describe('The answers to choose from');

const SimpleAnswer = [
  z.object({
    kind: z.literal('number'),
    unit: z.string().describe('Unit of a bare number; other units of its dimension are converted'),
    min: z.number().describe('Impossible below this, in `unit`'),
    max: z.number().describe('Impossible above this, in `unit`'),
    decimals: z.number().describe('Decimals that are kept'),
  }),
  z.object({ kind: z.literal('choice'), options: Options }).describe('One of the options'),
  z.object({ kind: z.literal('choices'), options: Options }).describe('Any number of the options'),
  z.object({ kind: z.literal('confirm') }).describe('`true`: seen and in order'),
  z.object({ kind: z.literal('yes-no') }).describe('`true` or `false`'),
  z.object({ kind: z.literal('date') }).describe('Calendar day, YYYY-MM-DD'),
  z.object({
    kind: z.literal('text'),
    maxLength: z.number().describe('Most characters'),
    pattern: z
      .object({
        source: z.string().describe('Regular expression that must match all of it'),
        says: z.string().describe('The same in words'),
      })
      .optional()
      .describe('Form of the text'),
  }),
] as const;

/** What an answer to a catalogue item may be, as the API shows it; mirrors `AnswerType` of the catalogue. */
export const AnswerTypeView = z
  .discriminatedUnion('kind', [
    ...SimpleAnswer,
    z.object({
      kind: z.literal('fields'),
      fields: z
        .record(
          z.string(),
          z.object({
            type: z.discriminatedUnion('kind', [...SimpleAnswer]).describe('What this part may be'),
            required: z.boolean().describe('Whether it must be given with the others'),
            label: z.string().describe('What it is'),
          }),
        )
        .describe('The named parts'),
    }),
  ])
  .describe('What an answer may be')
  .meta({ id: 'AnswerType' });
