import { z } from 'zod';
import { CAUTIONS } from '../../domain/cautions.ts';
import { type Calculation, NotComputable, STANDINGS, type Worked } from '../../domain/trade/calculation.ts';
import { CALCULATIONS } from '../../domain/trade/calculations.ts';
import { ProblemError } from '../../http/frame/problem.ts';
import { PLOTS } from './plots.ts';

const JSON_TYPE = 'application/json';
export const SVG_TYPE = 'image/svg+xml';

/** What a computation answers in, the usual one first. */
export const mediaTypesOf = (name: string): string[] => (PLOTS.has(name) ? [JSON_TYPE, SVG_TYPE] : [JSON_TYPE]);

/** `tyre-age` → `calculateTyreAge`. */
export const operationIdOf = (name: string): string =>
  `calculate${name.replaceAll(/(?:^|-)([a-z])/g, (_, letter: string) => letter.toUpperCase())}`;

/** Every computation as the list shows it. */
export function listCalculations(): CalculationList {
  const calculations = CALCULATIONS.map(({ name, title, summary, sources, example }) => ({
    name,
    title,
    summary,
    sources: sources.map((source) => ({ ...source })),
    mediaTypes: mediaTypesOf(name),
    operation: {
      operationId: operationIdOf(name),
      method: 'POST',
      href: `/v1/calculations/${name}`,
      documentation: `/docs/#/Calculations/${operationIdOf(name)}`,
    },
    // Every body is an object: the documentation test reads them all through their schemas.
    example: example as Record<string, unknown>,
  }));
  return { calculations, caution: CAUTIONS.general.text };
}

/** A media range of an `Accept` header with its weight. */
interface Range {
  type: string;
  subtype: string;
  weight: number;
}

const RANGE = /^([\w!#$%&'*+.^`|~-]+)\/([\w!#$%&'*+.^`|~-]+)$/;

function rangesIn(header: string): Range[] {
  return header.split(',').flatMap((part): Range[] => {
    const [range = '', ...parameters] = part.split(';').map((text) => text.trim().toLowerCase());
    const [, type, subtype] = RANGE.exec(range) ?? [];
    if (type === undefined || subtype === undefined) return [];
    const weight = Number(parameters.find((parameter) => parameter.startsWith('q='))?.slice(2) ?? 1);
    return [{ type, subtype, weight: Number.isFinite(weight) ? weight : 0 }];
  });
}

/** The weight of the most specific range that covers a media type: itself, all of its kind, anything; 0 for none. */
function weightOf(mediaType: string, ranges: readonly Range[]): number {
  const [type, subtype] = mediaType.split('/');
  const matches = [
    ranges.find((range) => range.type === type && range.subtype === subtype),
    ranges.find((range) => range.type === type && range.subtype === '*'),
    ranges.find((range) => range.type === '*' && range.subtype === '*'),
  ];
  return matches.find((range) => range !== undefined)?.weight ?? 0;
}

/**
 * The media type to answer in (RFC 9110, section 12.5.1): the offered one with the highest weight, the first where
 * several weigh the same. No `Accept`, or an empty one, takes anything.
 *
 * @param offered media types in lower case, the preferred one first
 * @returns `undefined` where none of them will do
 */
export function chooseType<T extends string>(accept: string | undefined, offered: readonly T[]): T | undefined {
  if (accept === undefined || accept.trim() === '') return offered[0];
  const ranges = rangesIn(accept);
  let best: { type: T; weight: number } | undefined;
  for (const type of offered) {
    const weight = weightOf(type, ranges);
    if (weight > (best?.weight ?? 0)) best = { type, weight };
  }
  return best?.type;
}

/**
 * Runs a computation on a body that its schema has read.
 *
 * @throws ProblemError `calculation-refused` with a pointer to every value that cannot be
 */
export function calculate<I, R>(calculation: Calculation<I, R>, body: I): Worked<R> {
  try {
    return calculation.compute(body);
  } catch (error) {
    if (!(error instanceof NotComputable)) throw error;
    const errors = error.faults.map((fault) => ({ ...fault, in: 'body' }));
    const named = error.faults.slice(0, 3).map(({ pointer, detail }) => `${pointer || '/'}: ${detail}`);
    throw new ProblemError('calculation-refused', named.join('; '), { errors });
  }
}

/** The answer around a result: working, assumptions, cautions, sources and the caution that belongs on all of them. */
export function viewWorked<I, R>({ name, sources }: Calculation<I, R>, worked: Worked<R>): WorkedView {
  const { result, steps, assumptions, cautions } = worked;
  return { name, result, steps, assumptions, cautions, sources, caution: CAUTIONS.general.text };
}

/** Longer lists are cut in the examples of the documentation. */
const EXAMPLE_ITEMS = 6;

/** The answer to a computation's own example, its long lists cut short, for the documentation. */
export function exampleAnswer(calculation: Calculation): unknown {
  const worked = calculation.compute(calculation.input.parse(calculation.example));
  return shorten(viewWorked(calculation, worked));
}

function shorten(value: unknown): unknown {
  if (Array.isArray(value)) return value.slice(0, EXAMPLE_ITEMS).map(shorten);
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(Object.entries(value).map(([key, part]) => [key, shorten(part)]));
}

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

interface WorkedView {
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
