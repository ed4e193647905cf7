import { z } from 'zod';
import { Id, InstantOut, Page, text } from '../../../http/frame/common-schemas.ts';
import { TRIAL_SUMMARY_EXAMPLE, TrialSummaryView } from '../../../http/views/trial-view.ts';
import { TASK_STATES } from '../../../records/tasks.ts';
import { VERDICTS } from '../../../domain/rules/model/finding.ts';

const MAX_EVENTS = 50;
const MAX_VERSION = 2_147_483_647;

export const StartTrial = z
  .strictObject({
    eventIds: z
      .array(Id)
      .min(1)
      .max(MAX_EVENTS)
      .refine((ids) => new Set(ids).size === ids.length, 'names an event twice')
      .describe('Events whose declarations are judged, 1 to 50'),
    version: z
      .int()
      .min(1)
      .max(MAX_VERSION)
      .optional()
      .describe('A published version to try; absent: the draft as it is now'),
  })
  .meta({ id: 'StartTrial' });
export type StartTrial = z.infer<typeof StartTrial>;

const NotAppliedView = z
  .object({
    eventId: Id,
    runGroupId: Id,
    runGroup: z.string().describe('Name of the group'),
    from: z.enum(['venue', 'run-group']).describe('Whose change it is'),
    pointer: z.string().describe('JSON Pointer into the changes of the venue or the group'),
    code: z.string().describe('Kind of fault, for programs'),
    detail: z.string().describe('Why the rules tried cannot take it'),
  })
  .describe('A change of a venue or a run group that was left out');

export const TrialResult = TrialSummaryView.extend({
  notApplied: z
    .array(NotAppliedView)
    .describe(
      'Changes of venues and run groups that the rules tried cannot take, at most 500; the cars were judged without',
    ),
}).meta({ id: 'TrialResult' });
export type TrialResult = z.infer<typeof TrialResult>;

const summary = {
  trialId: Id,
  ruleSetId: Id,
  state: z.enum(TASK_STATES).describe('`done`: there is a result; `failed`: there is an error'),
  done: z.int().describe('Declarations judged so far'),
  total: z.int().nullable().describe('Declarations to judge; null until the work begins'),
  error: z.string().optional().describe('Why it failed'),
  requestedBy: z.string().describe('Who asked for it'),
  requestedAt: InstantOut,
  startedAt: InstantOut.optional(),
  finishedAt: InstantOut.optional(),
};

export const TrialView = z
  .object({
    ...summary,
    eventIds: z.array(Id).describe('Events whose declarations are judged'),
    tried: z
      .object({
        version: z.int().optional().describe('The published version; absent: the draft as it was'),
        contentHash: z.string().describe('SHA-256 (hex) of the document in the canonical form of RFC 8785'),
      })
      .describe('The rules that are tried; later changes of the draft do not change them'),
    result: TrialResult.optional().describe('What the trial found; there when it is done'),
  })
  .meta({ id: 'Trial' });
export type TrialView = z.infer<typeof TrialView>;

export const TrialList = z
  .object({
    trials: z.array(z.object(summary)).describe('Newest first, without results'),
    next: z.string().optional().describe('Cursor of the next page'),
  })
  .meta({ id: 'TrialList' });
export type TrialSummary = z.infer<typeof TrialList>['trials'][number];

export const trialParams = z.strictObject({ trialId: Id });
export const ruleSetParams = z.strictObject({ ruleSetId: Id });
export const trialQuery = z.strictObject(Page);

export const START_EXAMPLE = { eventIds: ['019ab8f0-0000-7000-8000-0000000000e1'] };

const WAITING_EXAMPLE = {
  trialId: '019ab8f0-0000-7000-8000-0000000000f9',
  ruleSetId: '019ab8f0-0000-7000-8000-0000000000c1',
  state: 'waiting' as const,
  done: 0,
  total: null,
  requestedBy: 'Ines Varga',
  requestedAt: '2026-06-20T09:00:00.000Z',
};

export const TRIAL_EXAMPLE: TrialView = {
  ...WAITING_EXAMPLE,
  ...START_EXAMPLE,
  tried: { contentHash: '5f0c7a1ae1b7fcd7a1d4e0f5b6c7d8e9f0a1b2c3d4e5f60718293a4b5c6d7e8f' },
};

export const DONE_EXAMPLE: TrialView = {
  ...TRIAL_EXAMPLE,
  state: 'done',
  done: 84,
  total: 84,
  startedAt: '2026-06-20T09:00:00.120Z',
  finishedAt: '2026-06-20T09:00:00.410Z',
  result: {
    ...TRIAL_SUMMARY_EXAMPLE,
    notApplied: [
      {
        eventId: '019ab8f0-0000-7000-8000-0000000000e1',
        runGroupId: '019ab8f0-0000-7000-8000-0000000000b1',
        runGroup: 'Intermediate',
        from: 'run-group',
        pointer: '/parameters/rotorRunout',
        code: 'unknown-parameter',
        detail: 'there is no parameter "rotorRunout"',
      },
    ],
  },
};

export const LIST_EXAMPLE = { trials: [WAITING_EXAMPLE] };

export const RejudgeInput = z
  .strictObject({
    rulesHash: z.string().max(80).describe('`rulesHash` of the run group: the rules that must judge the cars'),
    reason: text(300).describe('Why, for history, entrants and the gate'),
  })
  .meta({ id: 'Rejudge' });
export type RejudgeInput = z.infer<typeof RejudgeInput>;

/** What can come of re-judging one entry. */
export const OUTCOMES = [
  'judged-anew',
  'recalled',
  'signed-off',
  'refused',
  'same-rules',
  'not-declared',
  'withdrawn',
  'gone',
] as const;

export const EntryOutcome = z.object({
  entryId: Id,
  carNumber: z.string().describe('Exact text'),
  outcome: z
    .enum(OUTCOMES)
    .describe(
      '`judged-anew`: nobody had accepted it; `recalled`: accepted, and back on the line; `signed-off` and `refused`: ' +
        'left as it is; `same-rules`: judged by these rules already',
    ),
  before: z.enum(VERDICTS).optional().describe('Verdict before'),
  after: z.enum(VERDICTS).optional().describe('Verdict under the rules of today'),
  reason: z.string().optional().describe('Why it was recalled'),
  inspectionId: z.string().optional().describe('The new revision'),
});
export type EntryOutcome = z.infer<typeof EntryOutcome>;

export const RejudgementView = z
  .object({
    rejudgementId: Id,
    runGroupId: Id,
    rulesHash: z.string().describe('The rules that judge'),
    reason: z.string().describe('Why'),
    state: z.enum(['waiting', 'running', 'done', 'failed']).describe('What was done before a failure stays done'),
    done: z.int().describe('Entries looked at'),
    total: z.int().nullable().describe('Entries of the group; null until the work begins'),
    error: z.string().optional().describe('Why it failed'),
    entries: z.array(EntryOutcome).describe('What came of each entry, by car number'),
    requestedBy: z.string().describe('Who asked for it'),
    requestedAt: InstantOut,
    finishedAt: InstantOut.optional(),
  })
  .meta({ id: 'RejudgementView' });
export type RejudgementView = z.infer<typeof RejudgementView>;

export const rejudgementParams = z.strictObject({ rejudgementId: Id });

export const REJUDGE_EXAMPLE = {
  rulesHash: 'f3a1c0de5b7742d18e0c7fd1b9a2c4e6f8a0b1c2d3e4f5061728394a5b6c7d8e',
  reason: 'Two pad failures on Friday: the minimum is 6 mm from now on',
};

export const REJUDGEMENT_EXAMPLE: RejudgementView = {
  rejudgementId: '019ab8f0-0000-7000-8000-0000000000f7',
  runGroupId: '019ab8f0-0000-7000-8000-0000000000b1',
  ...REJUDGE_EXAMPLE,
  state: 'done',
  done: 2,
  total: 2,
  entries: [
    {
      entryId: '019ab8f0-0000-7000-8000-0000000000e1',
      carNumber: '42',
      outcome: 'recalled',
      reason: 'Brake pad friction material (Two pad failures on Friday: the minimum is 6 mm from now on)',
      inspectionId: '019ab8f0-0000-7000-8000-0000000000f2',
    },
    { entryId: '019ab8f0-0000-7000-8000-0000000000e2', carNumber: '7', outcome: 'signed-off' },
  ],
  requestedBy: 'Race office',
  requestedAt: '2026-06-12T19:30:00.000Z',
  finishedAt: '2026-06-12T19:30:02.000Z',
};
