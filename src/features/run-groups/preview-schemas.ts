import { z } from 'zod';
import { Id } from '../../http/common-schemas.ts';
import { TRIAL_SUMMARY_EXAMPLE, TrialSummaryView } from '../../http/trial-view.ts';

const Cars = (what: string) => z.int().describe(what);

/** What a change of a run group's rules would do, before anybody does it. */
export const RunGroupPreview = TrialSummaryView.extend({
  preview: z.string().describe('Names the rules that would judge; send it with the change that leads to them'),
  sameRules: z.boolean().describe('The group is judged by exactly these rules already'),
  onRejudgement: z
    .object({
      judgedAnew: Cars('Declared, and not accepted by anybody yet: would be judged anew'),
      recalled: Cars('Accepted, and would drop to the line: a rule marked `recall` is new or tighter'),
      signedOff: Cars('Accepted, and would stay so'),
      refused: Cars('Refused, and would stay so'),
      sameRules: Cars('Judged by these rules already'),
      notDeclared: Cars('Without a declaration that counts'),
      withdrawn: Cars('Withdrawn'),
    })
    .describe('What becomes of the entries when they are judged anew under these rules; nothing happens before'),
  recalled: z
    .array(
      z.object({
        entryId: Id,
        carNumber: z.string().describe('Exact text'),
        because: z
          .array(
            z.object({
              ruleId: z.string().describe('Id of the rule'),
              title: z.string().describe('What it judges'),
              position: z.string().optional().describe('Where on the car'),
              message: z.string().describe('What is wrong'),
            }),
          )
          .describe('Rules marked `recall` that it does not meet, as declared and as measured at the line'),
      }),
    )
    .describe('Accepted cars that would drop to the line, by car number'),
}).meta({ id: 'RunGroupPreview' });
export type RunGroupPreview = z.infer<typeof RunGroupPreview>;

export const PREVIEW_EXAMPLE: RunGroupPreview = {
  ...TRIAL_SUMMARY_EXAMPLE,
  preview: '9b1d4e0f5b6c7d8e9f0a1b2c3d4e5f60718293a4b5c6d7e8f5f0c7a1ae1b7fcd7',
  sameRules: false,
  onRejudgement: {
    judgedAnew: 40,
    recalled: 1,
    signedOff: 43,
    refused: 0,
    sameRules: 0,
    notDeclared: 4,
    withdrawn: 1,
  },
  recalled: [
    {
      entryId: '019ab8f0-0000-7000-8000-0000000000e7',
      carNumber: '42',
      because: [
        {
          ruleId: 'brake-pad-thickness',
          title: 'Brake pad thickness',
          position: 'FL.in',
          message: 'The pad is too thin to last the event.',
        },
      ],
    },
  ],
};
