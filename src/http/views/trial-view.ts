import { z } from 'zod';
import { COUNTS, RESULTS } from '../../domain/rules/model/finding.ts';
import type { FindingSide as Side } from '../../domain/rules/trial/trial.ts';
import type { Nearest } from '../../domain/rules/trial/trial-nearest.ts';
import type { TrialSummary } from '../../domain/rules/trial/trial-summary.ts';
import { Id } from '../frame/common-schemas.ts';
import { VerdictView } from './finding-view.ts';

const Margin = z
  .object({ value: z.number(), unit: z.string() })
  .describe('Distance to the limit; negative is outside, 0 is on it');
const Cars = (what: string) => z.int().describe(what);

const FindingSide = z
  .object({
    result: z.enum(RESULTS).describe('Result of the rule'),
    counts: z.enum(COUNTS).describe('What it does in this judgement'),
    measured: z
      .object({ value: z.union([z.number(), z.string(), z.boolean()]), unit: z.string().optional() })
      .optional()
      .describe('The value judged'),
    limit: z.string().optional().describe('What was asked for'),
    margin: Margin.optional(),
    message: z.string().describe('What is wrong; empty when met'),
  })
  .meta({ id: 'FindingSide' });

/** A rule that comes out otherwise, at one position. */
export const RuleChangeView = z
  .object({
    ruleId: z.string().describe('Id of the rule'),
    title: z.string().describe('What was judged'),
    position: z.string().optional().describe('Where on the car'),
    before: FindingSide.optional().describe('As it was; absent: the rule judged nothing here'),
    after: FindingSide.optional().describe('As it would be; absent: the rule would judge nothing here'),
  })
  .meta({ id: 'RuleChange' });

const subject = {
  entryId: Id,
  carNumber: z.string().describe('Exact text'),
  eventId: Id,
  runGroupId: Id,
  inspectionId: Id,
  accepted: z.boolean().describe('An inspector accepted the car with this declaration'),
};

/** The declaration that a trial speaks of. */
export interface TrialSubject {
  entryId: string;
  carNumber: string;
  eventId: string;
  runGroupId: string;
  inspectionId: string;
  accepted: boolean;
}

export const FlipView = z
  .object({
    ...subject,
    before: VerdictView.describe('Verdict that was given, without concessions'),
    after: VerdictView.describe('Verdict it would get, without concessions'),
    because: z.array(RuleChangeView).describe('The rules that explain it, in the order of the rules'),
    moreChanges: z.int().optional().describe('Rules that explain it too and are not listed'),
  })
  .meta({ id: 'VerdictFlip' });

export const NearCaseView = z
  .object({
    ...subject,
    ruleId: z.string().describe('Id of the rule'),
    title: z.string().describe('What was judged'),
    position: z.string().optional().describe('Where on the car'),
    result: z.enum(RESULTS).describe('Result of the rule'),
    measured: z.union([z.number(), z.string()]).describe('The value judged: a number, or a date'),
    limit: z.string().describe('What is asked for'),
    margin: Margin,
    relative: z
      .number()
      .describe('Size of the margin as a share of the limit, 0 being on it; days are set against a year'),
  })
  .meta({ id: 'NearCase' });

const NearestView = z.object({
  met: z.array(NearCaseView).describe('Just inside, nearest first'),
  notMet: z.array(NearCaseView).describe('Just outside, nearest first'),
});

const Verdicts = z.object({
  barred: Cars('Cars barred'),
  'to-inspect': Cars('Cars the line must look at'),
  clean: Cars('Cars with nothing to look at'),
});

/** What other rules make of declarations that were judged before; each entry counts once, with its newest revision. */
export const TrialSummaryView = z.object({
  totals: z
    .object({
      judged: Cars('Declarations judged'),
      flipped: Cars('Other verdict than before'),
      newlyBarred: Cars('Barred, and was not'),
      newlyToInspect: Cars('To inspect, and was barred or clean'),
      newlyClean: Cars('Clean, and was not'),
      before: Verdicts.describe('Verdicts as they were given, without concessions'),
      after: Verdicts.describe('Verdicts under the rules tried, without concessions'),
      hadConcession: Cars('Judged with a concession before; concessions count on neither side of the comparison'),
      unreadable: Cars('With answers that the catalogue of today cannot read: they count as not given'),
    })
    .describe('Cars'),
  rules: z
    .array(
      z.object({
        ruleId: z.string().describe('Id of the rule'),
        title: z.string().describe('What it judges'),
        watched: z.literal(true).optional().describe('On watch: counted, judges nobody'),
        gone: z.literal(true).optional().describe('Not among the rules tried'),
        met: Cars('Cars that meet it'),
        notMet: Cars('Cars that do not, at one position or more'),
        unanswerable: Cars('Cars that lack an answer to it'),
        newlyNotMet: Cars('Of those not met, cars that were not so before'),
        newlyUnanswerable: Cars('Of those unanswerable, cars that were not so before'),
        newlyMet: Cars('Of those met, cars that did not meet it before'),
        noLongerJudged: Cars('Cars it judged before and does not judge now'),
        flips: Cars('Flips it explains, alone or with others'),
        nearest: NearestView.describe('A few cars nearest to its limit'),
      }),
    )
    .describe('Every rule in order; rules that judged no car too'),
  flips: z.array(FlipView).describe('Cars with another verdict, by event, run group and car number'),
  nearest: NearestView.describe('The cars nearest to a limit, over all rules'),
  truncated: z
    .object({
      flips: z.boolean().describe('There are more flips than listed'),
      nearest: z.boolean().describe('There are more values with a distance to a limit than listed'),
    })
    .describe('What was cut; the numbers are always of all'),
});
export type TrialSummaryView = z.infer<typeof TrialSummaryView>;

const viewSide = (side: Side | undefined) => side && { ...side, message: side.message ?? '' };

type NearestView = z.infer<typeof NearestView>;

const viewNearest = ({ met, notMet }: Nearest<TrialSubject>): NearestView => ({
  met: met.map(({ subject, ...near }) => ({ ...subject, ...near })),
  notMet: notMet.map(({ subject, ...near }) => ({ ...subject, ...near })),
});

/** The summary of a trial as callers read it. `seen` is what its judge noted beside the judgements. */
export function viewTrialSummary(
  summary: TrialSummary<TrialSubject>,
  seen: { hadConcession: number; unreadable: number },
): TrialSummaryView {
  return {
    totals: { ...summary.totals, ...seen },
    rules: summary.rules.map(({ nearest, ...rule }) => ({ ...rule, nearest: viewNearest(nearest) })),
    flips: summary.flips.map(({ subject, because, ...flip }) => ({
      ...subject,
      ...flip,
      because: because.map(({ before, after, ...rule }) => ({
        ...rule,
        before: viewSide(before),
        after: viewSide(after),
      })),
    })),
    nearest: viewNearest(summary.nearest),
    truncated: summary.truncated,
  };
}

const SUBJECT_EXAMPLE = {
  entryId: '019ab8f0-0000-7000-8000-0000000000e7',
  carNumber: '42',
  eventId: '019ab8f0-0000-7000-8000-0000000000e1',
  runGroupId: '019ab8f0-0000-7000-8000-0000000000b1',
  inspectionId: '019ab8f0-0000-7000-8000-0000000000f1',
  accepted: true,
};

const NEAR_EXAMPLE: z.infer<typeof NearCaseView> = {
  ...SUBJECT_EXAMPLE,
  ruleId: 'brake-pad-thickness',
  title: 'Brake pad thickness',
  position: 'FL.in',
  result: 'not-met',
  measured: 4.5,
  limit: '≥ 5 mm',
  margin: { value: -0.5, unit: 'mm' },
  relative: 0.1,
};

export const TRIAL_SUMMARY_EXAMPLE: TrialSummaryView = {
  totals: {
    judged: 84,
    flipped: 11,
    newlyBarred: 11,
    newlyToInspect: 0,
    newlyClean: 0,
    before: { barred: 3, 'to-inspect': 20, clean: 61 },
    after: { barred: 14, 'to-inspect': 17, clean: 53 },
    hadConcession: 1,
    unreadable: 0,
  },
  rules: [
    {
      ruleId: 'brake-pad-thickness',
      title: 'Brake pad thickness',
      met: 70,
      notMet: 14,
      unanswerable: 0,
      newlyNotMet: 11,
      newlyUnanswerable: 0,
      newlyMet: 0,
      noLongerJudged: 0,
      flips: 11,
      nearest: { met: [], notMet: [NEAR_EXAMPLE] },
    },
  ],
  flips: [
    {
      ...SUBJECT_EXAMPLE,
      before: 'clean',
      after: 'barred',
      because: [
        {
          ruleId: 'brake-pad-thickness',
          title: 'Brake pad thickness',
          position: 'FL.in',
          before: {
            result: 'met',
            counts: 'no',
            measured: { value: 4.5, unit: 'mm' },
            limit: '≥ 4 mm',
            margin: { value: 0.5, unit: 'mm' },
            message: '',
          },
          after: {
            result: 'not-met',
            counts: 'bar',
            measured: { value: 4.5, unit: 'mm' },
            limit: '≥ 5 mm',
            margin: { value: -0.5, unit: 'mm' },
            message: 'The pad is too thin to last the event.',
          },
        },
      ],
    },
  ],
  nearest: { met: [], notMet: [NEAR_EXAMPLE] },
  truncated: { flips: true, nearest: true },
};
