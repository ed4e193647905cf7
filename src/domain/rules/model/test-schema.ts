import { z } from 'zod';

const name = z.string().trim().min(1).max(80);
const item = name.describe('Catalogue key');
const field = name.optional().describe('Part of an answer that has parts');
const forms = (what: string) => ({ error: `write ${what}` });
const ByParameter = z.strictObject({ parameter: name.describe('Name of a parameter') });

/** A number to compare with: a named parameter, a number in a unit, or what the vehicle record states. */
export const Limit = z.union(
  [
    ByParameter,
    z.strictObject({
      value: z.number().describe('The number'),
      unit: name.optional().describe('Its unit; absent: the unit of the item'),
    }),
    z.strictObject({
      vehicle: name.describe('Path in the vehicle record; per-position values are taken at the position'),
    }),
  ],
  forms('{"parameter": name}, {"value": number, "unit": unit} or {"vehicle": path}'),
);
export type Limit = z.infer<typeof Limit>;

/** A number of calendar steps: a named parameter or a whole number. */
export const Count = z.union(
  [ByParameter, z.strictObject({ value: z.int().min(0).max(1200).describe('How many') })],
  forms('{"parameter": name} or {"value": whole number}'),
);
export type Count = z.infer<typeof Count>;

/** An age: a whole number of days or months, or a parameter in `day`, `month` or `year`. */
export const AgeLimit = z.union(
  [
    ByParameter,
    z.strictObject({
      value: z.int().min(0).max(36_500).describe('How many'),
      unit: z.enum(['day', 'month', 'year']).describe('Of what'),
    }),
  ],
  forms('{"parameter": name} or {"value": whole number, "unit": "day", "month" or "year"}'),
);
export type AgeLimit = z.infer<typeof AgeLimit>;

const Choices = z.union(
  [z.array(z.string().max(120)).min(1).max(200), ByParameter],
  forms('a list of texts or {"parameter": name}'),
);

export const LimitTest = z
  .strictObject({
    kind: z.literal('limit'),
    item,
    field,
    atLeast: Limit.optional().describe('The least it may be'),
    atMost: Limit.optional().describe('The most it may be'),
    strict: z.literal(true).optional().describe('More than / less than, instead of at least / at most'),
  })
  .refine((test) => (test.atLeast === undefined) !== (test.atMost === undefined), 'give atLeast or atMost, not both');
export type LimitTest = z.infer<typeof LimitTest>;

/** Both ends belong to the range. */
export const RangeTest = z.strictObject({
  kind: z.literal('range'),
  item,
  field,
  from: Limit.describe('The least it may be'),
  to: Limit.describe('The most it may be'),
});
export type RangeTest = z.infer<typeof RangeTest>;

/** `one-of`: the answer (each one chosen) is in the list; `none-of`: none of it is. */
export const OneOfTest = z.strictObject({
  kind: z.enum(['one-of', 'none-of']).describe('Whether it must be in the list, or must not'),
  item,
  field,
  values: Choices.describe('The texts, or a parameter that lists them'),
});
export type OneOfTest = z.infer<typeof OneOfTest>;

/** A confirmation that must be given, or a yes/no that must be `expect` (absent: yes). */
export const ConfirmTest = z.strictObject({
  kind: z.literal('confirm'),
  item,
  field,
  expect: z.boolean().optional().describe('What a yes/no must be; absent: yes'),
});
export type ConfirmTest = z.infer<typeof ConfirmTest>;

/** The date may be at most so old on the event day named by `at` (absent: the last). */
export const AgeTest = z.strictObject({
  kind: z.literal('age'),
  item,
  field,
  atMost: AgeLimit.describe('The oldest it may be'),
  at: z.enum(['event-end', 'event-start']).optional().describe('The day the age is taken on; absent: the last'),
});
export type AgeTest = z.infer<typeof AgeTest>;

/**
 * The stated date, moved on by the label rule (`addMonths` or `addYears`, then to 31 December with `endOfYear`), must
 * reach the last event day. `inclusive: false`: it must be later than that day.
 */
export const ValidThroughTest = z
  .strictObject({
    kind: z.literal('valid-through'),
    item,
    field,
    through: z.literal('event-end'),
    inclusive: z.boolean().describe('`false`: it must be later than the last event day'),
    addMonths: Count.optional().describe('Months the label adds to the date'),
    addYears: Count.optional().describe('Years the label adds to the date'),
    endOfYear: z.literal(true).optional().describe('Then to 31 December'),
  })
  .refine(
    (test) => test.addMonths === undefined || test.addYears === undefined,
    'give addMonths or addYears, not both',
  );
export type ValidThroughTest = z.infer<typeof ValidThroughTest>;

/** Largest minus smallest over all positions of the item, or within each wheel (`within` or the rule's `each`). */
export const SpreadTest = z.strictObject({
  kind: z.literal('spread'),
  item,
  field,
  within: z.literal('wheel').optional().describe('Within each wheel; absent: over all positions'),
  atMost: Limit.describe('The largest difference'),
});
export type SpreadTest = z.infer<typeof SpreadTest>;

/** So many evidence photos of the item. */
export const PhotoTest = z.strictObject({
  kind: z.literal('photo'),
  item,
  atLeast: z.int().min(1).max(20).describe('How many photos'),
});
export type PhotoTest = z.infer<typeof PhotoTest>;

/** A yes/no expression in our subset of the Common Expression Language. */
export const ExpressionTest = z.strictObject({
  kind: z.literal('expression'),
  expr: z.string().min(1).max(2000).describe('A yes/no expression'),
});
export type ExpressionTest = z.infer<typeof ExpressionTest>;

export const Test = z
  .discriminatedUnion('kind', [
    LimitTest,
    RangeTest,
    OneOfTest,
    ConfirmTest,
    AgeTest,
    ValidThroughTest,
    SpreadTest,
    PhotoTest,
    ExpressionTest,
  ])
  .describe('How the rule is judged');
export type Test = z.infer<typeof Test>;
