import { z } from 'zod';
import { CATALOGUE } from '../../domain/catalogue/catalogue.ts';
import {
  ConcessionCategory,
  EventDays,
  Example,
  Parameter,
  ParameterOverride,
  Rule,
  RuleBasis,
  RuleSet,
  VenueFacts,
} from '../../domain/rules/model/rule-set.ts';
import {
  AgeLimit,
  AgeTest,
  ConfirmTest,
  Count,
  ExpressionTest,
  Limit,
  LimitTest,
  OneOfTest,
  PhotoTest,
  RangeTest,
  SpreadTest,
  Test,
  ValidThroughTest,
} from '../../domain/rules/model/test-schema.ts';
import { Vehicle } from '../../domain/vehicle.ts';

type Json = Record<string, unknown>;

/** The parts that are named in the schema: by what name, and what they are. */
const PARTS: readonly (readonly [schema: z.ZodType, id: string, title: string, description?: string])[] = [
  [Parameter, 'parameter', 'Parameter', 'A named value that venues and run groups may set'],
  [ParameterOverride, 'parameter-override', 'Value of a parameter'],
  [ConcessionCategory, 'concession-category', 'Category of exceptions'],
  [Rule, 'rule', 'Rule', 'What is judged, by which test, and what comes of it'],
  [RuleBasis, 'basis', 'Basis', 'Where the rule comes from'],
  [Test, 'test', 'Test', 'How the rule is judged'],
  [LimitTest, 'test-limit', 'Limit', 'A number at least or at most a limit'],
  [RangeTest, 'test-range', 'Range', 'A number between two limits, both included'],
  [OneOfTest, 'test-one-of', 'One of, none of', 'An answer that is in a list, or is not'],
  [ConfirmTest, 'test-confirm', 'Confirm', 'A confirmation that is given, or a yes/no that is as it must be'],
  [AgeTest, 'test-age', 'Age', 'A date that is at most so old at the event'],
  [
    ValidThroughTest,
    'test-valid-through',
    'Valid through',
    'A date that, moved on by its label rule, reaches the event',
  ],
  [SpreadTest, 'test-spread', 'Spread', 'Largest minus smallest over positions'],
  [PhotoTest, 'test-photo', 'Photo', 'So many photos of an item'],
  [ExpressionTest, 'test-expression', 'Expression', 'A yes/no in the Common Expression Language, a subset of it'],
  [Limit, 'limit', 'Limit of a number'],
  [Count, 'count', 'Number of months or years'],
  [AgeLimit, 'age-limit', 'Age'],
  [Example, 'example', 'Example', 'A declaration and the verdict it must get'],
  [Vehicle, 'vehicle', 'Vehicle record'],
  [EventDays, 'event-days', 'Event days'],
  [VenueFacts, 'venue-facts', 'Venue'],
];

const TITLES = new Map<unknown, string>(PARTS.map(([schema, , title]) => [schema, title]));
const DESCRIPTIONS = new Map<unknown, string | undefined>(PARTS.map(([schema, , , text]) => [schema, text]));

/** What the shapes demand beyond types and keys. */
const DEMANDS = new Map<unknown, Json>([
  [LimitTest, { oneOf: [{ required: ['atLeast'] }, { required: ['atMost'] }] }],
  [ValidThroughTest, { not: { required: ['addMonths', 'addYears'] } }],
]);

const ITEM = {
  type: 'string',
  enum: CATALOGUE.map(({ key }) => key),
  title: 'Item',
  description: 'A key of the catalogue',
};

/** Lets `item` and `items` name keys of the catalogue only, so that an editor can offer them. */
function nameItems(definitions: Record<string, Json>): void {
  const item = { $ref: '#/$defs/item' };
  for (const { properties } of Object.values(definitions)) {
    const known = properties as Record<string, Json> | undefined;
    if (known?.['item'] !== undefined) known['item'] = item;
    if (known?.['items'] !== undefined) known['items'] = { ...known['items'], items: item };
  }
  definitions['item'] = ITEM;
}

/**
 * The JSON Schema (draft 2020-12) of a rule set, as people write it. It tells shapes and the keys of the catalogue;
 * names, units and expressions are told by the check.
 */
export function ruleSetJsonSchema(): Json {
  const named = z.registry<{ id: string }>();
  for (const [schema, id] of PARTS) named.add(schema, { id });
  const schema = z.toJSONSchema(RuleSet, {
    target: 'draft-2020-12',
    io: 'input',
    metadata: named,
    override: ({ zodSchema, jsonSchema }) => {
      const described = z.globalRegistry.get(zodSchema)?.description ?? DESCRIPTIONS.get(zodSchema);
      const title = TITLES.get(zodSchema);
      if (title !== undefined) jsonSchema.title = title;
      if (described !== undefined) jsonSchema.description = described;
      Object.assign(jsonSchema, DEMANDS.get(zodSchema));
      delete jsonSchema.id;
    },
  });
  const { $schema, $defs, ...rest } = schema;
  // the parts are objects, as all schemas of this document
  const definitions = ($defs ?? {}) as Record<string, Json>;
  nameItems(definitions);
  return {
    $schema,
    $id: 'urn:gridworthy:rule-set',
    title: 'Rule set',
    description: 'The rules that cars are judged by, with their limits and with examples of what comes of them',
    ...rest,
    $defs: definitions,
  };
}

/** Parts that are themselves outside a rule set too. */
const OWN_NAMES = new Set(['rule', 'vehicle', 'event-days', 'venue-facts', 'concession-category']);

/**
 * Names the parts of a rule set for the API document, where they stand in several requests: `test-limit` is
 * `RuleTestLimit`. Without a name each of them would be written out at every place.
 */
export function nameRuleSetParts(): void {
  for (const [schema, id] of PARTS) {
    const known = z.globalRegistry.get(schema);
    if (known?.id !== undefined) continue;
    const name = OWN_NAMES.has(id) ? pascalCase(id) : `Rule${pascalCase(id)}`;
    z.globalRegistry.add(schema, { ...known, id: name });
  }
}

/** `state-moved-on` → `StateMovedOn`. */
export const pascalCase = (text: string): string =>
  text.replaceAll(/(?:^|[^A-Za-z0-9]+)([A-Za-z0-9])/g, (_, letter: string) => letter.toUpperCase());
