import { z } from 'zod';
import { STANDINGS } from '../../domain/trade/calculation.ts';

const Standing = z
  .enum(STANDINGS)
  .describe(
    'How far it can be trusted. `published`: the standard itself was read; `secondary`: read in a quotation or textbook; ' +
      '`derived`: arithmetic from stated inputs; `from-memory`: not verified, replace it where you know better; ' +
      '`common-practice`: what the trade does, there is no source',
  )
  .meta({ id: 'Standing' });

const SourceView = z
  .object({ title: z.string().describe('What it is, and what was taken from it'), standing: Standing })
  .meta({ id: 'CalculationSource' });

const StepView = z
  .object({
    what: z.string().describe('What is worked out'),
    formula: z.string().describe('In symbols or words'),
    numbers: z.string().describe('The same with numbers and units put in'),
    result: z.string().describe('What comes out, with its unit'),
  })
  .meta({ id: 'CalculationStep' });

const AssumptionView = z
  .object({
    name: z.string().describe('What is assumed; where it is a value of the body, its name there'),
    value: z.string().describe('The value with its unit, or the simplification in words'),
    standing: Standing,
  })
  .meta({ id: 'CalculationAssumption' });

/** The answer of one computation around its own result. */
export const workedView = (result: z.ZodType) =>
  z.object({
    name: z.string().describe('Name of the computation'),
    result: result.describe('What was worked out'),
    steps: z.array(StepView).describe('Every formula with the numbers put in'),
    assumptions: z.array(AssumptionView).describe('What the body did not say, and simplifications'),
    cautions: z.array(z.string()).describe('Read before acting on the result'),
    sources: z.array(SourceView).describe('Where formulas, tables and limits come from'),
    caution: z.string().describe('Belongs on everything that shows a result'),
  });

export interface WorkedView {
  name: string;
  result: unknown;
  steps: unknown;
  assumptions: unknown;
  cautions: unknown;
  sources: unknown;
  caution: string;
}

/** Every computation with what a caller needs to ask it. */
export const CalculationList = z
  .object({
    calculations: z
      .array(
        z.object({
          name: z.string().describe('Last part of the address'),
          title: z.string().describe('Heading'),
          summary: z.string().describe('What goes in and what comes out'),
          sources: z.array(SourceView).describe('Where formulas, tables and limits come from'),
          mediaTypes: z.array(z.string()).describe('What it answers in; the first unless `Accept` asks for another'),
          operation: z
            .object({
              operationId: z.string().describe('In the API document'),
              method: z.string().describe('HTTP method'),
              href: z.string().describe('Address to send the body to'),
              documentation: z.string().describe('Page of this server that describes body and result'),
            })
            .describe('How to ask it'),
          example: z.record(z.string(), z.unknown()).describe('A body that works'),
        }),
      )
      .describe('All computations'),
    caution: z.string().describe('Belongs on everything that shows a result'),
  })
  .meta({ id: 'CalculationList' });
export type CalculationList = z.infer<typeof CalculationList>;
