import { z } from 'zod';
import { isPlainDate } from '../../calendar.ts';
import { POSITION_KEYS, type PositionScheme } from '../../catalogue/item.ts';
import { RawAnswers } from '../../declaration/declaration.ts';
import { EarlierEvent } from '../../facts/fact.ts';
import { LanguageTag } from '../../language.ts';
import { Vehicle } from '../../vehicle.ts';
import { EFFECTS, RESULTS, VERDICTS } from './finding.ts';
import { Test } from './test-schema.ts';

const SCHEMES = Object.keys(POSITION_KEYS) as [PositionScheme, ...PositionScheme[]];
const text = (max: number) => z.string().trim().min(1).max(max);

export const ParameterName = z.string().regex(/^[a-z][A-Za-z0-9]{0,59}$/, 'camelCase letters and digits, at most 60');
export const RuleId = z
  .string()
  .regex(/^[a-z0-9]+(-[a-z0-9]+)*$/, 'lower-case words joined by hyphens')
  .max(80);

export const CategoryName = z
  .string()
  .regex(/^[a-z][a-z0-9-]{0,39}$/, 'lower-case letters, digits and hyphens, at most 40');

/** How long an exception to rules of a category may last, in whole days after the day it is granted; 0: none may be granted. */
export const ConcessionCategory = z.strictObject({
  maximumDays: z.int().min(0).max(366).describe('Days after the day it is granted; 0: no exception'),
  meaning: text(300).describe('What belongs to it'),
});
export type ConcessionCategory = z.infer<typeof ConcessionCategory>;

/** A value that a run group may override: a number (with its unit), a text, a yes/no or an acceptance list. */
export const ParameterValue = z.union([
  z.number(),
  z.string().max(120),
  z.boolean(),
  z.array(z.string().max(120)).max(200),
]);
export type ParameterValue = z.infer<typeof ParameterValue>;

/** `unit`: a unit of `quantity.ts`, or the calendar steps `month` and `year`; absent for a plain number. */
export const Parameter = z.strictObject({
  value: ParameterValue.describe('The value used unless the run group overrides it'),
  unit: text(20).optional().describe('Unit of a number: one of the known units, or month, year'),
  meaning: text(300).describe('What it limits, in the organizer’s words'),
  source: text(300).optional().describe('Where the value comes from'),
});
export type Parameter = z.infer<typeof Parameter>;

/** What a run group states to change a parameter; without a unit the rule set's unit is meant. */
export const ParameterOverride = z.strictObject({
  value: ParameterValue.describe('The value for this run group'),
  unit: text(20).optional().describe('Any unit that converts to the parameter’s unit; absent: the parameter’s own'),
  reason: text(300).optional().describe('Why it is different here; shown beside the limit'),
});
export type ParameterOverride = z.infer<typeof ParameterOverride>;

/** Where a rule comes from; a rule that cannot say so is refused. */
export const RuleBasis = z
  .discriminatedUnion('kind', [
    z.strictObject({ kind: z.literal('published'), source: text(300).describe('The publication and its section') }),
    z.strictObject({
      kind: z.literal('common-practice'),
      note: text(300).optional().describe('Who does it so, and why'),
    }),
  ])
  .describe('Where the rule comes from');

/**
 * One rule. Without `each` a typed test on a positioned item runs once per position of that item, and an expression
 * runs once for the car and sees positioned items as maps.
 */
export const DECISIONS = ['simple', 'guarded', 'shared'] as const;
/** How a rule decides where a reading is nearer to its limit than the reading is good; see the guide. */
export type Decision = (typeof DECISIONS)[number];

export const CLEARED_BY = ['look', 'measure'] as const;
/** What clears a finding at the line: looking at it, or a new valid value. */
export type ClearedBy = (typeof CLEARED_BY)[number];

/** What it means for a rule that somebody says there is no answer. Absent: the line looks where it can find out. */
export const NoAnswerMeaning = z.strictObject({
  doesNotApply: z
    .enum(['bar', 'inspect', 'pass'])
    .optional()
    .describe('What was asked is said not to apply; absent: `inspect`, and `pass` where the rule only advises'),
  notSure: z
    .enum(['bar', 'inspect'])
    .optional()
    .describe('The entrant cannot tell; absent: `inspect`, and `bar` where only the entrant answers'),
});

const saysText = text(200).describe('One sentence that is true before an answer exists; `{name}` stands for a value');

/** What stands in a place of a limit sentence: an expression; `atLeast` and `atMost` say to which side it is rounded. */
export const SaysExpression = z.union(
  [
    z.string().min(1).max(1000),
    z.strictObject({ atLeast: z.string().min(1).max(1000).describe('The least that is inside: never rounded down') }),
    z.strictObject({ atMost: z.string().min(1).max(1000).describe('The most that is inside: never rounded up') }),
  ],
  { error: 'write an expression, {"atLeast": expression} or {"atMost": expression}' },
);
export type SaysExpression = z.infer<typeof SaysExpression>;

/** The limit of a rule as one sentence, where the one that is made of its test does not do. */
export const RuleSays = z.strictObject({
  text: saysText,
  without: saysText.optional().describe('Said instead where a value is not known: what to do first'),
  values: z
    .record(z.string().regex(/^[a-z][A-Za-z0-9]{0,29}$/, 'camelCase letters and digits, at most 30'), SaysExpression)
    .optional()
    .describe('Values by name, besides those that the kind of the test has: `limit`, `from`, `to`, `day`, `list`'),
});
export type RuleSays = z.infer<typeof RuleSays>;

/** The texts of a rule in one more language; what is absent is said in the language of the rule set. */
export const RuleTexts = z.strictObject({
  title: text(160).optional().describe('As `title`'),
  message: text(700).optional().describe('As `message`'),
  fix: text(700).optional().describe('As `fix`'),
  says: saysText.optional().describe('As `says.text`'),
  without: saysText.optional().describe('As `says.without`'),
});
export type RuleTexts = z.infer<typeof RuleTexts>;

export const Rule = z.strictObject({
  id: RuleId.describe('Stable name; concessions and examples refer to it'),
  title: text(120).describe('What is judged, as a heading'),
  items: z.array(text(80)).min(1).max(20).describe('Catalogue keys the test reads; they become points to check'),
  when: z.string().max(2000).optional().describe('Expression; the rule applies only where it is true'),
  each: z.enum(SCHEMES).optional().describe('Run once per position of this scheme'),
  test: Test,
  effect: z.enum(EFFECTS).describe('What it does when it is not met'),
  message: text(500).describe('What is wrong, for the entrant'),
  fix: text(500).describe('What to do about it'),
  fixFact: z
    .string()
    .regex(/^[a-z][A-Za-z0-9]{0,59}$/, 'the name of a derived fact')
    .optional()
    .describe('A derived fact that is a text, added to `fix` where it is known'),
  says: RuleSays.optional().describe('The limit as one sentence; absent: made of the test'),
  texts: z.record(LanguageTag, RuleTexts).optional().describe('The texts in other languages'),
  basis: RuleBasis,
  floor: z.literal(true).optional().describe('Venues and run groups may tighten it and never loosen it'),
  safetyCritical: z.literal(true).optional().describe('An exception to it needs a second person'),
  recall: z.literal(true).optional().describe('Cars signed off before it was tightened go back to the line'),
  decision: z
    .enum(DECISIONS)
    .optional()
    .describe(
      'How it decides within the uncertainty of a reading. `simple` (absent): the reading decides. `shared`: declared, the line measures it; measured, the reading decides. `guarded`: as `shared`, and what the line measures must be inside by the uncertainty',
    ),
  noAnswer: NoAnswerMeaning.optional().describe('What it means that somebody says there is no answer'),
  clearedBy: z
    .enum(CLEARED_BY)
    .optional()
    .describe(
      'What clears it at the line; absent: `measure` where it judges a number that the line can measure, else `look`',
    ),
  severity: z
    .enum(['critical', 'serious', 'minor'])
    .optional()
    .describe('How much harm it can do; nothing is judged by it'),
  watch: z.literal(true).optional().describe('Counted, judges nobody: for trying a new rule at one event'),
  concession: CategoryName.optional().describe('Category of its exceptions; absent: until the event ends'),
});
export type Rule = z.infer<typeof Rule>;

const plainDate = z.string().refine(isPlainDate, 'a date that exists, YYYY-MM-DD');

/** First and last day of the event, plain dates at the venue. */
export const EventDays = z
  .strictObject({ startsOn: plainDate, endsOn: plainDate })
  .refine((event) => event.startsOn <= event.endsOn, 'the event ends before it starts');
export type EventDays = z.infer<typeof EventDays>;

/** What rules and derived facts may know about the venue: km/h, dB(A), metres and °C. */
export const VenueFacts = z.strictObject({
  topSpeedKmh: z.number().positive().max(500).optional().describe('Highest speed reached, km/h'),
  soundLimitDb: z.number().positive().max(200).optional().describe('Sound limit, dB(A)'),
  soundDistanceM: z.number().positive().max(1000).optional().describe('Distance the limit is stated at, m'),
  lapLengthM: z.number().positive().max(100_000).optional().describe('Length of a lap, m'),
  designAirTemperatureC: z.number().min(-40).max(60).optional().describe('Air temperature to plan for, °C'),
  brakingZones: z
    .array(
      z.strictObject({
        name: z.string().max(80).optional().describe('For example a corner number'),
        fromKmh: z.number().min(0).max(500).describe('Speed at the start of braking, km/h'),
        toKmh: z.number().min(0).max(500).describe('Speed at the end of braking, km/h'),
      }),
    )
    .max(60)
    .optional()
    .describe('In order of a lap; read by derived facts only'),
});
export type VenueFacts = z.infer<typeof VenueFacts>;
/** What expressions read as `venue.<name>`: single values. */
export type VenueName = Exclude<keyof VenueFacts, 'brakingZones'>;

/**
 * A declaration with the verdict it must get; publishing runs them. A key of `findings` is a rule id (the worst
 * result over its positions) or `rule-id@FL`; `absent` means that the rule must give no finding.
 */
export const Example = z.strictObject({
  name: text(200).describe('What it shows'),
  vehicle: Vehicle,
  answers: RawAnswers.describe(
    'As an entrant sends them; a value may follow a parameter: `{"parameter": name, "plus": -0.1}`, in its unit',
  ),
  measured: RawAnswers.optional().describe('As an inspector measures them; wins over answers'),
  parameters: z.record(ParameterName, ParameterOverride).optional().describe('Run-group overrides'),
  event: EventDays,
  venue: VenueFacts.optional(),
  earlier: z.array(EarlierEvent).max(50).optional().describe('Earlier events of the same car, oldest first'),
  photos: z.record(z.string(), z.int().min(0)).optional().describe('Evidence photos per catalogue key'),
  stage: z.enum(['declaration', 'line']).optional().describe('Absent: declaration'),
  only: z.array(RuleId).min(1).optional().describe('Judge these rules only; absent: all'),
  expect: z.enum(VERDICTS).describe('The verdict it must get'),
  findings: z
    .record(z.string(), z.enum([...RESULTS, 'absent']))
    .optional()
    .describe('Results it must get'),
});
export type Example = z.infer<typeof Example>;

/** The parameter that lists which of `alwaysLook` a group looks at; a rule set without it looks at all. */
export const ALWAYS_LOOK_PARAMETER = 'alwaysLookPoints';

/** The yes/no parameter by which a group asks the lowest value of what wears only; a rule set without it asks each place. */
export const LOWEST_PARAMETER = 'lowestIsEnough';

/** What the line looks at on every car, whatever was declared. */
export const AlwaysLook = z.strictObject({
  id: RuleId.describe('Stable name'),
  title: text(120).describe('What to do, as an inspector reads it'),
  items: z
    .array(text(80))
    .min(1)
    .max(10)
    .describe('Catalogue keys that are ticked; those the car does not have fall away'),
  seconds: z.int().min(1).max(1800).describe('How long it takes'),
  texts: z
    .record(LanguageTag, z.strictObject({ title: text(160).describe('As `title`') }))
    .optional()
    .describe('The title in other languages'),
});
export type AlwaysLook = z.infer<typeof AlwaysLook>;

/** The whole document. Its parts are checked against the catalogue by `check.ts`; this is its shape only. */
export const RuleSet = z.strictObject({
  name: text(120).describe('Name of the rule set'),
  description: text(2000).optional().describe('For whom and for what'),
  language: LanguageTag.optional().describe('Language of its texts; absent: en'),
  parameters: z.record(ParameterName, Parameter).describe('Named limits'),
  concessionCategories: z
    .record(CategoryName, ConcessionCategory)
    .optional()
    .describe('How long exceptions may last, by category'),
  alwaysLook: z
    .array(AlwaysLook)
    .max(40)
    .optional()
    .describe(
      `Looked at on every car before it is accepted; parameter \`${ALWAYS_LOOK_PARAMETER}\` lists those of a group`,
    ),
  rules: z.array(Rule).min(1).max(2000).describe('Run in this order; the verdict does not depend on it'),
  examples: z.array(Example).max(3000).describe('Declarations and the verdict they must get'),
});
export type RuleSet = z.infer<typeof RuleSet>;
