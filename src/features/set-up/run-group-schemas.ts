import { z } from 'zod';
import { GroupOverlay } from '../../domain/rules/overlay/overlay.ts';
import { ParameterName, ParameterOverride } from '../../domain/rules/model/rule-set.ts';
import { Id, InstantOut, line, PlannedInstant, text } from '../../http/frame/common-schemas.ts';
import { SessionView } from '../../http/views/small-views.ts';
import { TRIAL_SUMMARY_EXAMPLE, TrialSummaryView } from '../../http/views/trial-view.ts';

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

const MAX_VERSION = 2_147_483_647;

const fields = {
  name: line(60).describe('Name, unique in the event'),
  order: z.int().min(0).max(10_000).describe('Place in lists; equal ones are in order of name'),
  firstSessionAt: PlannedInstant.describe(
    'When the group first goes on track, RFC 3339; on a day of the event at the venue',
  ),
  ruleSetId: Id.describe('The rule set that judges this group'),
  ruleSetVersion: z.int().min(1).max(MAX_VERSION).describe('A published version of it'),
};

export const RunGroupInput = z
  .strictObject({
    ...fields,
    parameters: z
      .record(ParameterName, ParameterOverride)
      .default({})
      .describe('Limits of the rule set that are different for this group, by name'),
    overlay: GroupOverlay.default({ effects: {}, rules: [] }).describe('Effects and rules that are different here'),
  })
  .meta({ id: 'RunGroup' });
export type RunGroupInput = z.infer<typeof RunGroupInput>;

export const RunGroupChanges = z
  .strictObject({
    ...fields,
    parameters: z
      .record(ParameterName, ParameterOverride.nullable())
      .describe('Overrides to set, each as a whole; `null` takes one away; those not named stay'),
    overlay: GroupOverlay.describe('Effects and rules that are different here, as a whole'),
    takeVenueRules: z
      .literal(true)
      .describe('Take over what the venue changes in the rule set today; otherwise it stays as the group took it'),
    preview: z
      .string()
      .max(80)
      .describe('The `preview` of the answer that showed who would change; needed once anybody has declared'),
    reason: text(300).describe('Why, for the history of the event'),
  })
  .partial()
  .meta({ id: 'RunGroupChanges' });
export type RunGroupChanges = z.infer<typeof RunGroupChanges>;

export const RunGroupView = z
  .object({
    runGroupId: Id,
    eventId: Id,
    name: z.string().describe('Name, unique in the event'),
    order: z.number().describe('Place in lists'),
    firstSessionAt: InstantOut.describe('When the group first goes on track'),
    sessions: z
      .array(SessionView)
      .describe('When it is on track, in order; the first is the first session. Empty: no timetable is known'),
    wet: z.boolean().describe('The track is wet for this group; see `/track` of it'),
    firstSessionOnEventDay: z.boolean().describe('`false` after the event was moved: set a new first session'),
    ruleSetId: Id.describe('The rule set that judges this group'),
    ruleSetVersion: z.number().describe('The published version of it'),
    parameters: z
      .record(
        z.string(),
        z.object({
          value: z
            .union([z.number(), z.string(), z.boolean(), z.array(z.string())])
            .describe('The value for this run group'),
          unit: z.string().optional().describe('Its unit; absent: the unit of the parameter'),
          reason: z.string().optional().describe('Why it is different here'),
        }),
      )
      .describe('Overrides by name'),
    overlay: z
      .object({
        effects: z.record(z.string(), z.record(z.string(), z.unknown())).describe('Changed effects by rule id'),
        rules: z.array(z.record(z.string(), z.unknown())).describe('Rules of this group'),
      })
      .describe('Effects and rules that are different here'),
    rulesHash: z.string().nullable().describe('Names the rules as they judge this group; changes when they do'),
    createdAt: InstantOut,
  })
  .meta({ id: 'RunGroupView' });
export type RunGroupView = z.infer<typeof RunGroupView>;

export const RunGroupList = z
  .object({ runGroups: z.array(RunGroupView).describe('By order, then name') })
  .meta({ id: 'RunGroupList' });

export const runGroupParams = z.strictObject({ eventId: Id, runGroupId: Id });

export const RUN_GROUP_EXAMPLE = {
  name: 'Intermediate',
  order: 2,
  firstSessionAt: '2026-06-13T07:20:00.000Z',
  ruleSetId: '019ab8f0-0000-7000-8000-0000000000c1',
  ruleSetVersion: 1,
  parameters: { padThicknessMinimum: { value: 6, unit: 'mm' } },
  overlay: {
    effects: {
      'floor-mats-out': { effect: 'bar' as const, reason: 'Steep pit lane: a loose mat ends under the pedals' },
    },
    rules: [],
  },
};
