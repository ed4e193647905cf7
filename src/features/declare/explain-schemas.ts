import { z } from 'zod';
import { GENERAL_CAUTION } from '../../domain/cautions.ts';
import { COUNTS, EFFECTS } from '../../domain/rules/model/finding.ts';
import { LAYERS } from '../../domain/rules/overlay/overlay.ts';
import { DECISIONS, RuleId } from '../../domain/rules/model/rule-set.ts';
import { Id, InstantOut } from '../../http/frame/common-schemas.ts';
import { BasisView, FINDING_EXAMPLE, FindingView } from '../../http/views/finding-view.ts';

export const EXPLANATION_EXAMPLE: ExplanationView = {
  inspectionId: '019ab8f0-0000-7000-8000-0000000000f1',
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  carNumber: '42',
  revision: 1,
  ruleSetId: '019ab8f0-0000-7000-8000-0000000000f0',
  ruleSetVersion: 1,
  rule: {
    ruleId: 'pad-thickness',
    title: 'Brake pad friction material',
    text: '"Friction material thickness" must be at least 4 mm at each position.',
    items: [{ key: 'pad.thickness', label: 'Friction material thickness' }],
    effect: 'bar',
    watch: false,
    origin: { from: 'rule-set', version: 1 },
    basis: { kind: 'common-practice' },
  },
  parameters: [
    {
      name: 'padMinimum',
      value: 4,
      unit: 'mm',
      text: '4 mm',
      meaning: 'Least friction material',
      origin: { from: 'run-group', version: 1, was: { value: 3, unit: 'mm', text: '3 mm' } },
    },
  ],
  applies: true,
  positions: [
    {
      position: 'FL.in',
      inWords:
        'Friction material thickness at FL.in: you declared 3.5 mm; asked for is at least 4 mm. The pad is too thin to last the event. The car may not go on track like this. Fit new pads on both sides of the axle and bed them in.',
      finding: FINDING_EXAMPLE,
      inputs: [
        {
          item: 'pad.thickness',
          label: 'Friction material thickness',
          position: 'FL.in',
          sent: { value: 3.5, unit: 'mm' },
          sentText: '3.5 mm',
          value: 3.5,
          unit: 'mm',
          valueText: '3.5 mm',
          by: 'entrant',
        },
      ],
      records: [],
      facts: [],
      comparison: { text: '3.5 mm ≥ 4 mm is not so, short by 0.5 mm', holds: false },
      certainty: {
        value: 3.5,
        unit: 'mm',
        atLeast: 4,
        uncertainty: 0.6,
        instrument: 'pad gauge in steps of 1 mm',
        by: 'usual',
        decision: 'shared',
        guardBand: 0.6,
        conformity: 0.048,
      },
      counts: 'bar',
      countsBecause: 'The rule bars: the car may not go on track until it is met.',
    },
  ],
  notAt: [],
  judgedAgain: 'same',
  caution: GENERAL_CAUTION,
};

export const explanationParams = z.strictObject({
  inspectionId: Id,
  ruleId: RuleId.describe('Id of the rule, as findings name it'),
});

const Layer = z.enum(LAYERS).describe('`rule-set`, or what changed it: the `venue` or the `run-group`');
const Value = z.unknown().describe('A number in `unit`, a text, a yes/no or a list');
const UnitOut = z.string().optional().describe('Unit of a number');

export const ParameterView = z.object({
  name: z.string().describe('Name of the limit'),
  value: Value.optional(),
  unit: UnitOut,
  text: z.string().optional().describe('Value and unit for people'),
  meaning: z.string().describe("What it limits, in the organizer's words"),
  source: z.string().optional().describe('Where the value of the rule set comes from'),
  origin: z
    .object({
      from: Layer,
      version: z.int().describe('Version of the rule set that it is, or that was changed'),
      was: z
        .object({ value: Value, unit: UnitOut, text: z.string().describe('Value and unit for people') })
        .optional()
        .describe('What the rule set says, where it was changed'),
    })
    .describe('Where the value comes from'),
});
export type ParameterView = z.infer<typeof ParameterView>;

const InputView = z.object({
  item: z.string().describe('Catalogue key'),
  label: z.string().describe('What was asked'),
  position: z.string().optional().describe('Where on the car'),
  field: z.string().optional().describe('Part of an answer that has parts'),
  sent: z.unknown().optional().describe('As it was declared or measured; absent: not answered'),
  sentText: z.string().optional().describe('The same for people: `3/32 in`'),
  value: z.unknown().optional().describe('As it was judged, in `unit`; absent: there was nothing to judge'),
  unit: UnitOut,
  valueText: z.string().optional().describe('The judged value for people'),
  by: z.enum(['entrant', 'inspector']).optional().describe('Who gave the value that was judged'),
  note: z.string().optional().describe('Why there is no value'),
});

const RecordView = z.object({
  from: z.enum(['vehicle', 'venue', 'event']).describe('Which record'),
  name: z.string().describe('Place in the record'),
  label: z.string().describe('What it is'),
  value: Value.optional(),
  unit: UnitOut,
});

const FactView = z.object({
  name: z.string().describe('Name of the fact, with its position where it has one'),
  meaning: z.string().describe('What it is'),
  value: Value.optional(),
  unit: UnitOut,
  restsOn: z
    .array(z.string())
    .optional()
    .describe('What a forecast was worked out from beside the answers: each reading with its day and where it is from'),
});

const ConditionView = z.object({
  expression: z.string().describe('As it is written in the rule'),
  text: z.string().describe('The same in words'),
  holds: z.boolean().nullable().describe('Null: it could not be told, so the rule has no answer'),
});

const CertaintyView = z.object({
  value: z.number().describe('As judged, in `unit`'),
  unit: z.string().describe('Of all numbers here'),
  atLeast: z.number().optional().describe('The limit that it must reach'),
  atMost: z.number().optional().describe('The limit that it must not pass'),
  uncertainty: z.number().describe('Expanded uncertainty U (k = 2) of the reading'),
  instrument: z.string().describe('What it was read with'),
  by: z
    .enum(['usual', 'event', 'inspector'])
    .describe(
      'Whose word U is: `usual`, what such values are usually read with; `event`, the instruments of the event; `inspector`, who measured',
    ),
  decision: z.enum(DECISIONS).describe('How the rule decides within U'),
  guardBand: z.number().describe('By how much the limit is moved to the safe side for this reading: U or 0'),
  conformity: z.number().describe('Probability that the true value is inside the limit, 0 to 1'),
});

export const PositionView = z.object({
  position: z.string().optional().describe('Where on the car; absent: the whole car'),
  inWords: z.string().describe('Two or three sentences for the driver'),
  finding: FindingView.describe('The finding as it was stored'),
  condition: ConditionView.optional().describe('Of a rule with a condition'),
  inputs: z.array(InputView).describe('Answers that the rule and its condition read'),
  records: z.array(RecordView).describe('What they read of vehicle, venue and event; no `value`: not stated'),
  facts: z.array(FactView).describe('Derived facts that they read; no `value`: it could not be derived'),
  comparison: z
    .object({
      text: z.string().describe('`3.5 mm ≥ 4 mm is not so, short by 0.5 mm`'),
      holds: z.boolean().nullable().describe('Null: something was missing'),
    })
    .describe('What was compared'),
  certainty: CertaintyView.optional().describe('Of a number whose reading has a known uncertainty'),
  counts: z.enum(COUNTS).describe('What the finding does in this judgement'),
  countsBecause: z.string().describe('Why: effect, stage, concession, watch, or not known'),
});
export type PositionView = z.infer<typeof PositionView>;

const Outcome = {
  applies: z.boolean().describe('Whether the rule gave a finding on this car'),
  reason: z.string().optional().describe('Why it gave none'),
  positions: z.array(PositionView).describe('One per finding'),
  notAt: z
    .array(
      z.object({ position: z.string().describe('Where on the car'), reason: z.string().describe('Why not there') }),
    )
    .describe('Positions of this car at which it gave no finding'),
  judgedAgain: z
    .enum(['same', 'differs'])
    .describe('Whether the stored answers, judged again now by the rules of that day, give exactly the same findings'),
};

export const ExplanationView = z
  .object({
    inspectionId: Id,
    entryId: Id,
    carNumber: z.string().describe('Exact text'),
    revision: z.int().describe('Revision of the declaration'),
    ruleSetId: Id.describe('Rule set that judged it'),
    ruleSetVersion: z.int().describe('Published version that judged it'),
    rule: z
      .object({
        ruleId: z.string().describe('Id of the rule'),
        title: z.string().describe('What is judged'),
        text: z.string().describe('The rule in plain words, with the limits that held'),
        expression: z.string().optional().describe('Of a rule that is an expression'),
        condition: ConditionView.omit({ holds: true }).optional().describe('Where it applies'),
        items: z.array(z.object({ key: z.string().describe('Catalogue key'), label: z.string().describe('Question') })),
        effect: z.enum(EFFECTS).describe('What the rule does when it is not met'),
        watch: z.boolean().describe('On watch: counted, judges nobody'),
        origin: z
          .object({
            from: Layer,
            version: z.int().optional().describe('Version of the rule set, for a rule of it'),
            changed: z
              .object({
                by: Layer,
                reason: z.string().describe('Why it is different here'),
                was: z
                  .object({ effect: z.enum(EFFECTS).describe('Effect'), watch: z.boolean().describe('On watch') })
                  .describe('As the rule set has it'),
              })
              .optional()
              .describe('A change of effect or watch'),
          })
          .describe('Where the rule comes from'),
        basis: BasisView.describe('What the rule rests on'),
      })
      .describe('The rule as it judged this car'),
    parameters: z.array(ParameterView).describe('Named limits that the rule reads'),
    ...Outcome,
    atLine: z
      .object({
        signOffId: Id,
        decision: z.string().describe('What the inspector decided'),
        signedBy: z.string().describe('Who decided'),
        signedAt: InstantOut,
        ...Outcome,
        seen: z
          .array(
            z.object({
              item: z.string().describe('Catalogue key'),
              position: z.string().optional().describe('Where on the car'),
              result: z.enum(['ok', 'not-ok']).describe('What was seen'),
              note: z.string().optional().describe('Remark of the inspector'),
            }),
          )
          .describe('Points of this rule that were looked at without measuring'),
      })
      .optional()
      .describe('The same at the newest sign-off, with what the inspector measured; absent: not signed off'),
    caution: z.string().describe('To be shown with it'),
  })
  .meta({ id: 'ExplanationView' });
export type ExplanationView = z.infer<typeof ExplanationView>;
