import { z } from 'zod';
import { VERDICTS } from '../../domain/rules/model/finding.ts';
import { Id, InstantOut, text } from '../../http/frame/common-schemas.ts';

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
