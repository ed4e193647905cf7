import { z } from 'zod';
import { EFFECTS } from '../../../domain/rules/model/finding.ts';
import { LAYERS } from '../../../domain/rules/overlay/overlay.ts';
import { Id, InstantOut } from '../../../http/frame/common-schemas.ts';

const Value = z.union([z.number(), z.string(), z.boolean(), z.array(z.string())]);
const Effect = z.enum(EFFECTS);
const Layer = z.enum(LAYERS);

const LimitView = z.object({
  name: z.string().describe('Name of the parameter'),
  meaning: z.string().describe('What it limits'),
  kind: z.enum(['number', 'text', 'date', 'yes-no', 'list']).describe('What it holds'),
  unit: z.string().optional().describe('Unit of its numbers'),
  value: Value.describe('What judges here now'),
  builtIn: Value.describe('What the rule set says'),
  from: Layer.describe('Whose value it is'),
  reason: z.string().optional().describe('Why it is different'),
  changed: z
    .object({ by: z.string().describe('Who changed it last for this group'), at: InstantOut })
    .optional()
    .describe('Absent: as the group was made'),
  source: z.string().optional().describe('Where the rule set has its value from'),
  options: z.array(z.string()).optional().describe('All that it may hold; absent: anything of its kind'),
  wholeNumber: z.boolean().describe('No fractions'),
  plausible: z
    .object({ from: z.number(), to: z.number(), basis: z.enum(['item', 'built-in']) })
    .optional()
    .describe('Outside of this a value is likely a slip; it is asked back, not refused'),
  usedBy: z
    .array(
      z.object({
        ruleId: z.string().describe('Id of the rule'),
        title: z.string().describe('What it judges'),
        effect: Effect.describe('What it does here when it is not met'),
      }),
    )
    .describe('The rules that read it'),
});

const EffectView = z.object({
  ruleId: z.string().describe('Id of the rule'),
  title: z.string().describe('What it judges'),
  effect: Effect.describe('What it does here when it is not met'),
  builtIn: Effect.describe('As the rule set has it'),
  watch: z.boolean().describe('It is counted here and judges nobody'),
  from: Layer.describe('Whose effect it is'),
  reason: z.string().optional().describe('Why it is different'),
  floor: z.boolean().describe('It may only be made stricter'),
  safetyCritical: z.boolean().describe('An exception to it needs two people'),
});

export const LimitsView = z
  .object({
    ruleSetId: Id,
    ruleSetVersion: z.int().describe('The published version underneath'),
    name: z.string().describe('Name of the rule set'),
    limits: z.array(LimitView).describe('In the order of the rule set'),
    effects: z.array(EffectView).describe('In the order of the rule set'),
    alwaysLook: z
      .array(
        z.object({
          id: z.string().describe('Id of the point'),
          title: z.string().describe('What is looked at'),
          seconds: z.number().optional().describe('How long it takes'),
        }),
      )
      .describe('What can always be looked at; the limit `alwaysLookPoints` says what is'),
  })
  .meta({ id: 'Limits' });
export type LimitsView = z.infer<typeof LimitsView>;

export const LIMITS_EXAMPLE: LimitsView = {
  ruleSetId: '019ab8f0-0000-7000-8000-0000000000c1',
  ruleSetVersion: 1,
  name: 'Club rules',
  limits: [
    {
      name: 'padThicknessMinimum',
      meaning: 'Thinnest brake pad that may start',
      kind: 'number',
      unit: 'mm',
      value: 6,
      builtIn: 5,
      from: 'run-group',
      reason: 'Two heavy braking zones',
      changed: { by: 'Office desk', at: '2026-05-02T09:20:00.000Z' },
      wholeNumber: false,
      plausible: { from: 1, to: 25, basis: 'item' },
      usedBy: [{ ruleId: 'brake-pad-thickness', title: 'Brake pad thickness', effect: 'bar' }],
    },
  ],
  effects: [
    {
      ruleId: 'brake-pad-thickness',
      title: 'Brake pad thickness',
      effect: 'bar',
      builtIn: 'bar',
      watch: false,
      from: 'rule-set',
      floor: false,
      safetyCritical: true,
    },
  ],
  alwaysLook: [{ id: 'brake-pedal', title: 'Brake pedal held hard for 10 seconds', seconds: 15 }],
};

export const groupLimitsParams = z.strictObject({ runGroupId: Id });
