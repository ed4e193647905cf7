import { z } from 'zod';
import { GENERAL_CAUTION } from '../../domain/cautions.ts';
import { ParameterOverride } from '../../domain/rules/model/rule-set.ts';
import { Id, InstantOut, line } from '../../http/frame/common-schemas.ts';
import { SaidView } from '../../records/evidence.ts';
import { AskedView, DoubtsView, JUDGED_BY, SAID_EXAMPLE } from './form-schema.ts';
import { FINDING_EXAMPLE, FindingView, TALLY_EXAMPLE, TallyView, VerdictView } from '../../http/views/finding-view.ts';
import { ToldView } from '../../http/views/small-views.ts';

export const RawAnswersIn = z
  .record(z.string().max(80), z.unknown())
  .describe('Answers by item key; a positioned item holds its answers by position; null is not answered');

export const SaveDraft = z.strictObject({ answers: RawAnswersIn }).meta({ id: 'SaveDraft' });
export type SaveDraft = z.infer<typeof SaveDraft>;

export const SubmitInspection = z
  .strictObject({
    answers: RawAnswersIn.optional().describe('Absent: the saved draft is submitted'),
    saidBy: line(200)
      .optional()
      .describe(
        'By an inspector at the line: who of the entry said all this. He types it and does not sign the car off',
      ),
  })
  .meta({ id: 'SubmitInspection' });
export type SubmitInspection = z.infer<typeof SubmitInspection>;

export const MissingAnswer = z.object({
  key: z.string().describe('Catalogue key'),
  position: z.string().optional().describe('Where on the car'),
  field: z.string().optional().describe('Part of a composite answer'),
});
export type MissingAnswer = z.infer<typeof MissingAnswer>;

export const DraftView = z
  .object({
    entryId: Id,
    draftRev: z.int().describe('Version of the draft, as in the ETag'),
    verdict: VerdictView,
    tally: TallyView.describe('How many findings there are, by what they count for'),
    judgedBy: z
      .string()
      .describe(
        `${JUDGED_BY}. When it is not what the form said, read the form again: more has changed than the draft`,
      ),
    findings: z
      .array(FindingView)
      .describe(
        'What the rules say otherwise than of the draft before; with `findings=all` all they say. In rule-set order',
      ),
    gone: z
      .array(
        z.object({
          ruleId: z.string().describe('Id of the rule'),
          position: z.string().optional().describe('Where it was'),
        }),
      )
      .describe('Findings of the draft before that are no more: their rules do not apply to these answers'),
    asked: AskedView,
    missing: z.array(MissingAnswer).describe('What is asked and still to be answered'),
    doubts: DoubtsView,
    said: SaidView,
    notApplicable: z.array(z.string()).describe('Answers kept but not used: they do not apply to this car'),
    caution: z.string().describe('To be shown with every verdict'),
  })
  .meta({ id: 'DraftView' });
export type DraftView = z.infer<typeof DraftView>;

export const InspectionView = z
  .object({
    inspectionId: Id.describe('Id of this revision'),
    entryId: Id.describe('Its entry'),
    carNumber: z.string().describe('Exact text'),
    revision: z.int().describe('1 for the first submission; the newest counts'),
    ruleSetId: Id.describe('Rule set that judged it'),
    ruleSetVersion: z.int().describe('Published version that judged it'),
    rulesHash: z
      .string()
      .nullable()
      .describe('Names exactly the rules that judged it, with what venue and group changed'),
    cause: z
      .enum(['submitted', 'rejudged'])
      .describe('`rejudged`: the same answers under other rules, ordered by the organizer'),
    parameters: z.record(z.string(), ParameterOverride).describe("The run group's overrides that judged it"),
    verdict: VerdictView,
    tally: TallyView.describe('How many findings there are, by what they count for'),
    evaluator: z
      .string()
      .nullable()
      .describe('Version of this server that judged it; null for what was judged before it was kept'),
    judgedAgain: z
      .enum(['same', 'differs'])
      .optional()
      .describe(
        'With `findings=all`: whether all that was told comes out again. `differs`: this server judges otherwise than then; what was told stands, and so do verdict and clearance',
      ),
    findings: z
      .array(FindingView)
      .describe('What is not met or not answered, in rule-set order; with `findings=all` also what is met'),
    missing: z
      .array(MissingAnswer)
      .describe('What the catalogue has for this car and was not answered, also what no rule asked for'),
    answers: z.record(z.string(), z.unknown()).describe('As declared'),
    said: SaidView,
    ticket: z
      .object({
        ticketId: Id,
        place: z.int().describe('Place on the line at the time of the answer, 1 is next'),
        told: ToldView.optional(),
      })
      .nullable()
      .describe('Null while the car is barred, and once it has been through the line'),
    submittedAt: InstantOut,
    caution: z.string().describe('To be shown with every verdict'),
  })
  .meta({ id: 'InspectionView' });
export type InspectionView = z.infer<typeof InspectionView>;

export const INSPECTION_EXAMPLE: InspectionView = {
  inspectionId: '019ab8f0-0000-7000-8000-0000000000f1',
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  carNumber: '42',
  revision: 1,
  ruleSetId: '019ab8f0-0000-7000-8000-0000000000f0',
  ruleSetVersion: 1,
  rulesHash: 'f3a1c0de5b7742d18e0c7fd1b9a2c4e6f8a0b1c2d3e4f5061728394a5b6c7d8e',
  cause: 'submitted',
  parameters: { padMinimum: { value: 4, unit: 'mm' } },
  verdict: 'barred',
  tally: TALLY_EXAMPLE,
  evaluator: '1.2',
  findings: [FINDING_EXAMPLE],
  missing: [],
  answers: { 'pad.thickness': { 'FL.in': { value: 3.5, unit: 'mm' } } },
  said: SAID_EXAMPLE,
  ticket: null,
  submittedAt: '2026-06-09T18:20:00.000Z',
  caution: GENERAL_CAUTION,
};

export const inspectionParams = z.strictObject({ inspectionId: Id });
