import { z } from 'zod';
import { Id, InstantOut, Page } from '../../http/frame/common-schemas.ts';
import { TRIAL_SUMMARY_EXAMPLE, TrialSummaryView } from '../../http/views/trial-view.ts';
import { TASK_STATES } from '../../records/tasks.ts';

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
