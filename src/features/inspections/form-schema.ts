import { z } from 'zod';
import { GENERAL_CAUTION } from '../../domain/caution-text.ts';
import { EFFECTS } from '../../domain/rules/finding.ts';
import { Id, InstantOut } from '../../http/common-schemas.ts';

export const FormItem = z.object({
  key: z.string().describe('Catalogue key: use it in `answers`'),
  area: z.string().describe('Where on the car or in the papers'),
  label: z.string().describe('The question'),
  help: z.string().describe('How to look or measure'),
  answer: z.looseObject({ kind: z.string() }).describe('Type of the answer with unit, bounds or options'),
  positions: z.array(z.string()).optional().describe('Positions at which it is asked on this car'),
  answeredBy: z.enum(['entrant', 'inspector', 'both']).describe('Who answers it'),
  cautions: z.array(z.string()).describe('Read before you do this'),
  rules: z
    .array(
      z.object({
        ruleId: z.string().describe('Id of the rule'),
        title: z.string().describe('What is judged'),
        effect: z.enum(EFFECTS).describe('What happens when it is not met'),
        position: z.string().optional().describe('Where on the car'),
        limit: z.string().optional().describe('What is asked for in this run group'),
      }),
    )
    .describe('The rules that read this item'),
  saved: z.unknown().optional().describe('The answer saved in the draft'),
  missing: z.array(z.string()).describe('Cells still to be answered: position, field or both'),
});

export const FormView = z
  .object({
    entryId: Id,
    carNumber: z.string().describe('Exact text'),
    runGroup: z.string().describe('Name of the run group whose limits are shown'),
    window: z
      .object({ opensAt: InstantOut, closesAt: InstantOut, open: z.boolean() })
      .describe('When declarations can be submitted'),
    draftRev: z.int().describe('Version of the saved draft, 0 when nothing is saved; as in the ETag'),
    items: z.array(FormItem).describe('Only what applies to this car, in the order of a walk around it'),
    caution: z.string().describe('To be shown on the form'),
  })
  .meta({ id: 'FormView' });
export type FormView = z.infer<typeof FormView>;

export const FORM_EXAMPLE: FormView = {
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  carNumber: '42',
  runGroup: 'Novice',
  window: { opensAt: '2026-06-01T06:00:00.000Z', closesAt: '2026-06-12T18:00:00.000Z', open: true },
  draftRev: 0,
  items: [
    {
      key: 'brake.pedal',
      area: 'brake-hydraulics',
      label: 'Brake pedal',
      help: 'Press hard for ten seconds with the engine running.',
      answer: { kind: 'choice', options: ['firm', 'long', 'spongy', 'sinks'] },
      answeredBy: 'both',
      cautions: [],
      rules: [{ ruleId: 'brake-pedal-firm', title: 'Brake pedal', effect: 'bar', limit: 'firm' }],
      missing: ['brake.pedal'],
    },
  ],
  caution: GENERAL_CAUTION,
};
