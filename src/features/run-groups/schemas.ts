import { z } from 'zod';
import { GroupOverlay } from '../../domain/rules/overlay.ts';
import { ParameterName, ParameterOverride } from '../../domain/rules/rule-set.ts';
import { Id, InstantOut, line, text } from '../../http/common-schemas.ts';
import { PlannedInstant } from '../../http/event-time.ts';

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
