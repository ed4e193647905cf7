import { z } from 'zod';
import { LAYERS } from '../../domain/rules/overlay/overlay.ts';
import { EFFECTS } from '../../domain/rules/model/finding.ts';
import { Id } from '../../http/frame/common-schemas.ts';

const Layer = z.enum(LAYERS).describe('Where it comes from');
const Value = z.union([z.number(), z.string(), z.boolean(), z.array(z.string())]);

export const ResolvedRulesView = z
  .object({
    runGroupId: Id,
    ruleSetId: Id,
    ruleSetVersion: z.int().describe('The published version underneath'),
    name: z.string().describe('Name of the rule set'),
    rulesHash: z.string().nullable().describe('Names exactly these rules'),
    venueRulesAreNewer: z
      .boolean()
      .describe('The venue has changed its rules since the group took them; PATCH with `takeVenueRules` takes them'),
    parameters: z
      .array(
        z.object({
          name: z.string().describe('Name of the parameter'),
          value: Value.describe('The value that judges this group'),
          unit: z.string().optional().describe('Its unit'),
          meaning: z.string().describe('What it limits'),
          source: z.string().optional().describe('Where the rule set has it from'),
          from: Layer,
          was: z.object({ value: Value, unit: z.string().optional() }).optional().describe('Value of the rule set'),
        }),
      )
      .describe('In the order of the rule set'),
    rules: z
      .array(
        z.object({
          from: Layer,
          changed: z
            .object({
              by: Layer,
              reason: z.string().describe('Why it is different here'),
              was: z.object({ effect: z.enum(EFFECTS), watch: z.boolean() }).describe('As the rule set has it'),
            })
            .optional()
            .describe('Set when effect or watch is different here'),
          rule: z.record(z.string(), z.unknown()).describe('The rule as it judges this group'),
        }),
      )
      .describe('In the order in which findings are listed'),
  })
  .meta({ id: 'ResolvedRules' });
export type ResolvedRulesView = z.infer<typeof ResolvedRulesView>;

export const resolvedRulesParams = z.strictObject({ runGroupId: Id });

export const RESOLVED_EXAMPLE: ResolvedRulesView = {
  runGroupId: '019ab8f0-0000-7000-8000-0000000000b1',
  ruleSetId: '019ab8f0-0000-7000-8000-0000000000c1',
  ruleSetVersion: 1,
  name: 'Club rules',
  rulesHash: 'f3a1c0de5b7742d18e0c7fd1b9a2c4e6f8a0b1c2d3e4f5061728394a5b6c7d8e',
  venueRulesAreNewer: false,
  parameters: [
    {
      name: 'padThicknessMinimum',
      value: 6,
      unit: 'mm',
      meaning: 'Thinnest brake pad that may start',
      from: 'run-group',
      was: { value: 5, unit: 'mm' },
    },
  ],
  rules: [
    {
      from: 'rule-set',
      changed: {
        by: 'venue',
        reason: 'No service road behind the barriers: a stranded car stops the day',
        was: { effect: 'inspect', watch: false },
      },
      rule: {
        id: 'brake-pad-thickness',
        title: 'Brake pad thickness',
        items: ['pad.thickness'],
        test: { kind: 'limit', item: 'pad.thickness', atLeast: { parameter: 'padThicknessMinimum' } },
        effect: 'bar',
        message: 'The pad is too thin to last the event.',
        fix: 'Fit new pads on both sides of the axle and bed them in.',
        basis: { kind: 'common-practice' },
      },
    },
  ],
};
