import fc from 'fast-check';
import type { Json } from '../../src/features/service/document-routes.ts';
import type { ApiModel } from './api-model.ts';
import { LOOK_ALIKES } from './hostile-values.ts';
import { learnt } from './json-text.ts';

const MAX_DEPTH = 7;
const DAY_MS = 86_400_000;
const JUNE = Date.parse('2026-06-13T08:00:00Z');

/** How values of a schema are made; one per run, because it remembers what it made of each schema. */
export interface SchemaValues {
  /** values that fit, as far as the schema says it all */
  fitting(schema: Json, name?: string): fc.Arbitrary<unknown>;
  /** the document's own example, with ids of things that exist */
  fromExample(example: unknown): unknown;
}

export function schemaValues(api: ApiModel): SchemaValues {
  const made = new Map<Json, Map<string, fc.Arbitrary<unknown>>>();

  function fitting(schema: Json, name = '', depth = 0): fc.Arbitrary<unknown> {
    if (depth > MAX_DEPTH) return fc.constant(null);
    // A shallow value may go deeper than one that stands deep already.
    const key = `${name}|${depth}`;
    const known = made.get(schema) ?? new Map<string, fc.Arbitrary<unknown>>();
    made.set(schema, known);
    const arbitrary = known.get(key) ?? make(api.resolve(schema), name, depth);
    known.set(key, arbitrary);
    return arbitrary;
  }

  function make(schema: Json, name: string, depth: number): fc.Arbitrary<unknown> {
    const choices = (schema['anyOf'] ?? schema['oneOf']) as Json[] | undefined;
    if (choices !== undefined) return fc.oneof(...choices.map((choice) => fitting(choice, name, depth + 1)));
    if ('const' in schema) return fc.constant(schema['const']);
    if (Array.isArray(schema['enum'])) return fc.constantFrom(...(schema['enum'] as unknown[]));
    switch ([schema['type']].flat()[0]) {
      case 'object':
        return objects(schema, depth);
      case 'array':
        return lists(schema, name, depth);
      case 'string':
        return fc.oneof(
          { weight: 3, arbitrary: fc.tuple(fc.nat(), texts(schema)).map(([pick, text]) => learnt(name, pick, text)) },
          { weight: 2, arbitrary: texts(schema) },
        );
      case 'integer':
        return fc.oneof(
          numbers(schema, true),
          fc.nat().map((pick) => learnt(name, pick, 1)),
        );
      case 'number':
        return numbers(schema, false);
      case 'boolean':
        return fc.boolean();
      case 'null':
        return fc.constant(null);
      default:
        return fc.oneof({ weight: 9, arbitrary: scalars() }, { weight: 1, arbitrary: fc.jsonValue({ maxDepth: 2 }) });
    }
  }

  function objects(schema: Json, depth: number): fc.Arbitrary<unknown> {
    const properties = Object.entries((schema['properties'] ?? {}) as Record<string, Json>);
    const required = (schema['required'] ?? []) as string[];
    const model = Object.fromEntries(properties.map(([key, part]) => [key, fitting(part, key, depth + 1)]));
    const least = Object.fromEntries(required.flatMap((key) => (model[key] === undefined ? [] : [[key, model[key]]])));
    const fixed = fc.oneof(
      { weight: 3, arbitrary: fc.record(model, { requiredKeys: required, noNullPrototype: true }) },
      { weight: 2, arbitrary: fc.record(least, { noNullPrototype: true }) },
    );
    const more = schema['additionalProperties'];
    if (typeof more !== 'object' || more === null) return fixed;
    const names = (schema['propertyNames'] ?? {}) as Json;
    const keys = fc.oneof(texts(names), fc.constantFrom('padMinimum', 'pad-thickness', 'brake.pedal', 'FL', 'front'));
    const extra = fc.dictionary(keys, fitting(more as Json, '', depth + 1), { maxKeys: 3, noNullPrototype: true });
    return fc.tuple(fixed, extra).map(([one, other]) => ({ ...other, ...one }));
  }

  function lists(schema: Json, name: string, depth: number): fc.Arbitrary<unknown> {
    const minLength = Number(schema['minItems'] ?? 0);
    const maxLength = Math.max(minLength, Math.min(Number(schema['maxItems'] ?? 3), depth > 2 ? 2 : 4));
    return fc.array(fitting((schema['items'] ?? {}) as Json, name.replace(/s$/, ''), depth + 1), {
      minLength,
      maxLength,
    });
  }

  return {
    fitting,
    fromExample: (example) => withLearntIds(example, ''),
  };
}

/** Numbers of a schema: its limits, what is just inside, and anything between. */
function numbers(schema: Json, whole: boolean): fc.Arbitrary<number> {
  const step = whole ? 1 : 0.001;
  const lowest = Number(
    schema['minimum'] ?? (schema['exclusiveMinimum'] === undefined ? -1000 : Number(schema['exclusiveMinimum']) + step),
  );
  const highest = Number(
    schema['maximum'] ??
      (schema['exclusiveMaximum'] === undefined ? Math.max(1000, lowest) : Number(schema['exclusiveMaximum']) - step),
  );
  const ends = fc.constantFrom(lowest, highest);
  const low = Math.max(lowest, -1e9);
  const high = Math.min(highest, 1e9);
  const between = whole
    ? fc.integer({ min: Math.ceil(low), max: Math.floor(high) })
    : fc.double({ min: low, max: high, noNaN: true }).map((value) => Number(value.toFixed(3)));
  return fc.oneof({ weight: 1, arbitrary: ends }, { weight: 5, arbitrary: between });
}

const patterns = new Map<string, fc.Arbitrary<string>>();

function texts(schema: Json): fc.Arbitrary<string> {
  const { format, pattern } = schema as { format?: string; pattern?: string };
  if (format === 'uuid') return fc.uuid({ version: 7 });
  if (format === 'email') return fc.constantFrom('entrant@example.org', 'a.b+c@sub.example.org');
  if (format === 'date') return fc.integer({ min: -400, max: 400 }).map((days) => dayOf(days));
  if (format === 'date-time') {
    return fc.integer({ min: -2000, max: 2000 }).map((hours) => new Date(JUNE + hours * 3_600_000).toISOString());
  }
  if (pattern !== undefined && !pattern.includes('u0000')) {
    const known = patterns.get(pattern) ?? fc.stringMatching(new RegExp(pattern), { maxLength: 40 });
    patterns.set(pattern, known);
    return known;
  }
  const minLength = Number(schema['minLength'] ?? 0);
  const maxLength = Math.max(minLength, Math.min(Number(schema['maxLength'] ?? 60), 60));
  return fc.oneof(
    {
      weight: 4,
      arbitrary: fc.constantFrom(
        'Test circuit',
        'Novice',
        '07',
        'leak at the left rear',
        'x'.repeat(Math.max(1, minLength)),
      ),
    },
    { weight: 3, arbitrary: fc.string({ minLength, maxLength, unit: 'grapheme' }) },
    { weight: 1, arbitrary: fc.constantFrom(...LOOK_ALIKES) },
  );
}

const dayOf = (days: number) => new Date(JUNE + days * DAY_MS).toISOString().slice(0, 10);

function scalars(): fc.Arbitrary<unknown> {
  return fc.oneof(
    fc.constantFrom(true, false, null, 'firm', 'clear', '2026-04-01'),
    fc.double({ min: -100, max: 100, noNaN: true }),
    fc.string({ maxLength: 20 }),
    fc.constant({ value: 8, unit: 'mm' }),
  );
}

/** The ids of an example are of nothing that exists. */
function withLearntIds(value: unknown, name: string): unknown {
  if (Array.isArray(value)) return value.map((part) => withLearntIds(part, name.replace(/s$/, '')));
  if (typeof value === 'object' && value !== null) {
    return Object.fromEntries(Object.entries(value).map(([key, part]) => [key, withLearntIds(part, key)]));
  }
  return typeof value === 'string' && /(Id|Number)$|^preview$/.test(name) ? learnt(name, 1, value) : value;
}
