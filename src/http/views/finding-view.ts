import { z } from 'zod';
import { boundsOf, type LimitBounds } from '../../domain/rules/check/check-parameters.ts';
import { COUNTS, EFFECTS, type Finding, RESULTS, VERDICTS } from '../../domain/rules/model/finding.ts';
import { CLEARED_BY } from '../../domain/rules/model/rule-set.ts';
import { InstantOut } from '../frame/common-schemas.ts';

export const VerdictView = z
  .enum(VERDICTS)
  .describe('`barred`: not on track; `to-inspect`: the line must look; `clean`: nothing to look at beyond the usual');

export const BasisView = z.union([
  z.object({ kind: z.literal('published'), source: z.string().describe('The publication') }),
  z.object({ kind: z.literal('common-practice'), note: z.string().optional().describe('Who does it so') }),
]);

const Bound = z.object({ value: z.number(), unit: z.string() });

/** A limit in numbers, beside its text. */
export const BoundsView = z
  .object({
    min: Bound.optional().describe('The least it may be'),
    max: Bound.optional().describe('The most it may be'),
    exclusive: z.literal(true).optional().describe('The bound itself is outside'),
    spread: z.literal(true).optional().describe('It limits a difference: 5 °C are 9 °F, not 41 °F'),
  })
  .describe('The limit in numbers, to be shown in another unit; absent where it is none');

/** The numbers of a limit as callers read them: nothing where it has none. */
export function viewBounds(limit: string | undefined): { bounds?: LimitBounds } {
  const bounds = boundsOf(limit);
  return bounds === undefined ? {} : { bounds };
}

/** One rule's result as callers read it. */
export const FindingView = z
  .object({
    ruleId: z.string().describe('Id of the rule'),
    title: z.string().describe('What was judged'),
    position: z.string().optional().describe('Where on the car, for a rule that runs per position'),
    result: z.enum(RESULTS).describe('`unanswerable` counts like not met: what is not known is not fine'),
    effect: z.enum(EFFECTS).describe('What the rule does when it is not met'),
    counts: z.enum(COUNTS).describe('What this finding does in this judgement'),
    items: z.array(z.string()).describe('Catalogue keys the rule reads'),
    measured: z
      .object({ value: z.union([z.number(), z.string(), z.boolean()]), unit: z.string().optional() })
      .optional()
      .describe('The value judged, in its unit'),
    limit: z.string().optional().describe('What was asked for'),
    bounds: BoundsView.optional(),
    margin: z
      .object({ value: z.number(), unit: z.string() })
      .optional()
      .describe('Distance to the limit; negative is outside'),
    source: z.enum(['declared', 'measured']).optional().describe('Who gave the value'),
    basis: BasisView.describe('Where the rule comes from'),
    message: z.string().describe('What is wrong; empty when met'),
    fix: z.string().describe('What to do about it; empty when met'),
    watched: z.literal(true).optional().describe('The rule is on watch: counted, judges nobody'),
    conceded: z
      .object({
        concessionId: z.string(),
        expiresAt: InstantOut,
        condition: z.string().optional().describe('What the concession asks for'),
      })
      .optional()
      .describe('The concession that covers this rule'),
    clearedBy: z
      .enum(CLEARED_BY)
      .optional()
      .describe('What clears it at the line: a look, or new values; absent where it asks for nothing'),
    reliability: z
      .union([
        z.object({
          kind: z.literal('too-close'),
          uncertainty: z.number().describe('Expanded uncertainty U (k = 2) of the reading, in the unit of the margin'),
          instrument: z.string().describe('What such a value is usually read with'),
          conformity: z.number().describe('Probability that the true value is inside the limit, 0 to 1'),
        }),
        z.object({
          kind: z.literal('implausible'),
          from: z.number().describe('Usual values begin here'),
          to: z.number().describe('and end here'),
        }),
      ])
      .optional()
      .describe('Why a value inside its limit is not enough'),
    facts: z
      .array(
        z.object({
          path: z.string().describe('Path in the record of the car: `rotorMinimumThicknessMm.FL`'),
          why: z
            .enum(['missing', 'unconfirmed'])
            .describe('`missing`: nobody said it; `unconfirmed`: nobody of the staff stands for it'),
        }),
      )
      .optional()
      .describe('Facts of the car that the line finds out: a check of `car.<fact>` at the position says what it is'),
  })
  .meta({ id: 'Finding' });

/** How many findings there are, by what they do. */
export const TallyView = z
  .object({
    all: z.int().describe('Findings of this judgement'),
    met: z.int().describe('Rules that are met'),
    bar: z.int().describe('Findings that keep the car off the track'),
    inspect: z.int().describe('Findings that the line must look at'),
    advise: z.int().describe('Findings that are advice'),
  })
  .meta({ id: 'Tally' });

export const TALLY_EXAMPLE: z.infer<typeof TallyView> = { all: 260, met: 254, bar: 1, inspect: 4, advise: 1 };

/** What to send: only what is not met (the usual), or all findings. */
export const FindingsQuery = z.strictObject({
  findings: z
    .enum(['counting', 'all'])
    .default('counting')
    .describe('`counting`: only what is not met, or not answered; `all`: also what is met'),
});
export type WhichFindings = z.infer<typeof FindingsQuery>['findings'];

/** A copy that the response schema can hold; findings are readonly inside. */
export function viewFindings(findings: readonly Finding[]): z.infer<typeof FindingView>[] {
  return findings.map((finding) => ({
    ...finding,
    ...viewBounds(finding.limit),
    items: [...finding.items],
  })) as z.infer<typeof FindingView>[];
}

export const FINDING_EXAMPLE: z.infer<typeof FindingView> = {
  ruleId: 'pad-thickness',
  title: 'Brake pad friction material',
  position: 'FL.in',
  result: 'not-met',
  effect: 'bar',
  counts: 'bar',
  items: ['pad.thickness'],
  measured: { value: 3.5, unit: 'mm' },
  limit: '≥ 4 mm',
  bounds: { min: { value: 4, unit: 'mm' } },
  margin: { value: -0.5, unit: 'mm' },
  source: 'declared',
  basis: { kind: 'common-practice' },
  message: 'The pad is too thin to last the event.',
  fix: 'Fit new pads on both sides of the axle and bed them in.',
};
