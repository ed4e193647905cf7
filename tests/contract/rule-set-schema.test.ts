import { readFile } from 'node:fs/promises';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, test } from 'vitest';
import { describeDifferences } from '../../openapi/compare.ts';
import { renderRuleSetSchema } from '../../openapi/document.ts';
import { BUILT_IN_RULE_SET } from '../../seed/built-in.ts';
import { DOCUMENT_EXAMPLE } from '../../src/features/rules/rule-set-schemas.ts';
import { ruleSetJsonSchema } from '../../src/http/openapi/rule-set-schema.ts';
import { readYaml } from '../../src/http/yaml/yaml-read.ts';

type Json = Record<string, unknown>;

const schema = ruleSetJsonSchema();
// `strict` also refuses a schema that says something nobody understands
const validate = new Ajv2020({ strict: true, strictTypes: false, strictRequired: false }).compile(schema);
const file = (path: string) => readFile(new URL(`../../${path}`, import.meta.url), 'utf8');

async function exampleDocument(): Promise<Json> {
  const read = readYaml(await file('seed/example-rule-set.yaml'));
  if (!read.ok) throw new Error(JSON.stringify(read.faults));
  return read.value as Json;
}

test('is the committed one', async () => {
  const committed = await file('openapi/rule-set.schema.json');
  expect(describeDifferences(committed, await renderRuleSetSchema())).toEqual([]);
});

test('names itself, and every named part has a title', () => {
  expect(schema).toMatchObject({ $schema: 'https://json-schema.org/draft/2020-12/schema', title: 'Rule set' });
  expect(schema['$id']).toBe('urn:gridworthy:rule-set');
  const parts = Object.entries(schema['$defs'] as Record<string, Json>);
  expect(parts.length).toBeGreaterThan(20);
  expect(parts.filter(([, part]) => typeof part['title'] !== 'string').map(([name]) => name)).toEqual([]);
});

test('every key a person may write is described', () => {
  const open: string[] = [];
  for (const [name, part] of Object.entries({ ...(schema['$defs'] as Record<string, Json>), '': schema })) {
    const properties = (part['properties'] ?? {}) as Record<string, Json>;
    for (const [key, one] of Object.entries(properties)) {
      if (one['description'] === undefined && one['$ref'] === undefined && one['const'] === undefined) {
        open.push(`${name}/${key}`);
      }
    }
  }
  // what a kind is, its part of the schema says; days say themselves
  expect(open.filter((place) => !/\/(kind|startsOn|endsOn)$/.test(place))).toEqual([]);
});

describe('takes', () => {
  test.each<[string, () => unknown]>([
    ['the built-in rule set', () => BUILT_IN_RULE_SET],
    ['the example', exampleDocument],
    ['the example of the API', () => DOCUMENT_EXAMPLE],
  ])('%s', async (_, document) => {
    validate(await document());
    expect(validate.errors ?? []).toEqual([]);
  });
});

describe('refuses', () => {
  const change =
    (path: readonly (string | number)[], value: unknown) =>
    (document: Json): void => {
      let at = document as Record<string | number, unknown>;
      for (const step of path.slice(0, -1)) at = at[step] as Record<string | number, unknown>;
      const last = path.at(-1) ?? '';
      if (value === undefined) delete at[last];
      else at[last] = value;
    };

  test.each<[string, (document: Json) => void]>([
    ['a document without rules', change(['rules'], [])],
    ['a key that nobody knows', change(['extra'], true)],
    ['a rule without a basis', change(['rules', 0, 'basis'], undefined)],
    ['an effect that is none', change(['rules', 0, 'effect'], 'warn')],
    ['an item that the catalogue does not have', change(['rules', 0, 'items', 0], 'pad.thicknes')],
    ['a test on such an item', change(['rules', 0, 'test', 'item'], 'pad.thicknes')],
    ['a kind that is none', change(['rules', 0, 'test', 'kind'], 'minimum')],
    ['a limit without a limit', change(['rules', 0, 'test', 'atLeast'], undefined)],
    ['two limits at once', change(['rules', 0, 'test', 'atMost'], { value: 9 })],
    ['an id with capitals', change(['rules', 0, 'id'], 'Pads')],
    ['a floor that is none', change(['rules', 1, 'floor'], false)],
    ['an exception without end', change(['concessionCategories', 'wear', 'maximumDays'], 1000)],
    ['a parameter without a meaning', change(['parameters', 'padMinimum', 'meaning'], undefined)],
    ['a parameter with a name of two words', change(['parameters', 'pad minimum'], { value: 1, meaning: 'x' })],
    ['a verdict that is none', change(['examples', 0, 'expect'], 'passed')],
    ['a car with an odd body', change(['examples', 0, 'vehicle', 'body'], 'estate')],
  ])('%s', async (_, spoil) => {
    const document = structuredClone(await exampleDocument());
    expect(validate(document)).toBe(true);
    // aliases share what they stand for
    const copy = JSON.parse(JSON.stringify(document)) as Json;
    spoil(copy);
    expect(validate(copy)).toBe(false);
  });
});
