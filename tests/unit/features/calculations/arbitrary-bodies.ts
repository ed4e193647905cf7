import fc from 'fast-check';
import { z } from 'zod';
import type { Calculation } from '../../../../src/domain/trade/calculation.ts';

type Json = Record<string, unknown>;

const MAX_DEPTH = 8;
const EDGES = [0, -0, 1, -1, 0.1, 1e-9, 1e9, -1e9, 1e308, -1e308, 5e-324, 100, 273.15];
const UNITS = [
  'mm',
  'in',
  'kPa',
  'psi',
  'bar',
  '°C',
  '°F',
  'K',
  'km/h',
  'mph',
  'kg',
  'lb',
  'N·m',
  'm',
  's',
  '1',
  'furlong',
];
const NASTY = [
  '',
  ' ',
  '0',
  '2324',
  '023',
  '0099',
  '5323',
  'NaN',
  '10W-40',
  '91V',
  '2026-02-29',
  '2026-02-28',
  '\u2028',
  '💥',
];

const arbScalar = fc.oneof(
  fc.constantFrom(...EDGES),
  fc.double({ noNaN: true, noDefaultInfinity: true }),
  fc.integer({ min: -1000, max: 3000 }),
  fc.constantFrom(...NASTY),
  fc.string({ maxLength: 8 }),
  fc.boolean(),
  fc.constant(null),
  fc.record({ value: fc.oneof(fc.constantFrom(...EDGES), fc.integer()), unit: fc.constantFrom(...UNITS) }),
);

/** Bodies that a schema allows, by its JSON Schema, with numbers at and near their bounds more often than not. */
function arbOf(schema: Json, root: Json, depth = 0): fc.Arbitrary<unknown> {
  if (depth > MAX_DEPTH) return fc.constant(null);
  const of = (part: unknown) => arbOf(part as Json, root, depth + 1);
  const ref = schema['$ref'];
  if (typeof ref === 'string') return of((root['$defs'] as Json)[ref.split('/').at(-1) ?? '']);
  if (Array.isArray(schema['enum'])) return fc.constantFrom(...(schema['enum'] as unknown[]));
  if ('const' in schema) return fc.constant(schema['const']);
  const either = schema['anyOf'] ?? schema['oneOf'];
  // a bare number first: a random unit seldom converts
  const first = Array.isArray(either) ? of({ ...(either[0] as Json), ...boundsToldBy(schema) }) : undefined;
  if (first !== undefined) return fc.oneof({ arbitrary: first, weight: 6 }, ...(either as Json[]).slice(1).map(of));
  return TYPED[String(schema['type'])]?.(schema, of) ?? arbScalar;
}

type Of = (part: unknown) => fc.Arbitrary<unknown>;

const TYPED: Readonly<Record<string, (schema: Json, of: Of) => fc.Arbitrary<unknown>>> = {
  object: arbObject,
  array: arbArray,
  number: arbNumber,
  integer: arbNumber,
  boolean: () => fc.boolean(),
  string: arbString,
};

/** Bounds of a measured value are in words only, because they hold in every unit. */
function boundsToldBy({ description }: Json): Json {
  const [, minimum, maximum] = /, (-?[\d.e+]+) \S+ to (-?[\d.e+]+) \S+$/u.exec(String(description)) ?? [];
  return minimum === undefined ? {} : { minimum: Number(minimum), maximum: Number(maximum) };
}

function arbObject(schema: Json, of: Of): fc.Arbitrary<unknown> {
  const properties = (schema['properties'] ?? {}) as Json;
  const parts = Object.fromEntries(Object.entries(properties).map(([key, part]) => [key, of(part)]));
  const known = fc.record(parts, { requiredKeys: (schema['required'] ?? []) as string[] });
  const more = schema['additionalProperties'];
  if (typeof more !== 'object') return known;
  const names = (schema['propertyNames'] as Json | undefined)?.['enum'] as string[] | undefined;
  const key = names === undefined ? fc.string({ minLength: 1, maxLength: 12 }) : fc.constantFrom(...names);
  return fc.tuple(known, fc.dictionary(key, of(more), { maxKeys: 6 })).map(([a, b]) => ({ ...b, ...(a as object) }));
}

function arbArray(schema: Json, of: Of): fc.Arbitrary<unknown> {
  if (Array.isArray(schema['prefixItems'])) return fc.tuple(...(schema['prefixItems'] as unknown[]).map(of));
  const minLength = Number(schema['minItems'] ?? 0);
  return fc.array(of(schema['items']), {
    minLength,
    maxLength: Math.min(Number(schema['maxItems'] ?? 5), minLength + 4),
  });
}

function arbNumber(schema: Json): fc.Arbitrary<number> {
  const bound = (name: string, fallback: number) => {
    const value = Number(schema[name] ?? schema[`exclusive${name[0]?.toUpperCase()}${name.slice(1)}`] ?? fallback);
    return Math.abs(value) > 1e9 ? fallback : value;
  };
  const [min, max] = [bound('minimum', -500), bound('maximum', 5000)];
  const [low, high] = min <= max ? [min, max] : [max, min];
  const whole = fc.integer({ min: Math.ceil(low), max: Math.max(Math.ceil(low), Math.floor(high)) });
  if (schema['type'] === 'integer') return whole;
  return fc.oneof(
    fc.constantFrom(low, high),
    whole,
    fc.double({ min: low, max: high, noNaN: true }),
    fc.constantFrom(...EDGES),
  );
}

function arbString(schema: Json): fc.Arbitrary<string> {
  const maxLength = Math.min(Number(schema['maxLength'] ?? 12), 12);
  if (schema['format'] === 'date') return fc.constantFrom('2026-06-13', '2024-02-29', '1999-12-31', '2026-02-30');
  return fc.oneof(
    fc.constantFrom(...NASTY),
    fc.stringMatching(/^[0-9A-Z/ .-]{1,10}$/u),
    fc.constantFrom('2026-06-13', '2020-02-29'),
    fc.string({ maxLength }),
  );
}

/** The example with a few of its values moved, replaced or left out: nearly right bodies. */
function arbMutation(example: unknown): fc.Arbitrary<unknown> {
  const change = fc.record({
    place: fc.constantFrom(...placesIn(example, [])),
    factor: fc.constantFrom(0, 0.1, 0.5, 0.9, 1.1, 2, 10, -1, 1e6, 1e-6, 1e-320),
    value: fc.oneof({ arbitrary: arbScalar, weight: 4 }, fc.constant(undefined)),
    moved: fc.integer({ min: 0, max: 3 }).map((chance) => chance > 0),
  });
  return fc.array(change, { minLength: 1, maxLength: 3 }).map((changes) => {
    const body: unknown = structuredClone(example);
    for (const { place, factor, value, moved } of changes) {
      changeAt(body, place, (before) => (moved && typeof before === 'number' ? before * factor : value));
    }
    return body;
  });
}

function placesIn(node: unknown, at: readonly string[]): (readonly string[])[] {
  if (typeof node !== 'object' || node === null) return [at];
  const inside = Object.entries(node).flatMap(([key, part]) => placesIn(part, [...at, key]));
  return at.length === 0 ? inside : [at, ...inside];
}

function changeAt(body: unknown, place: readonly string[], to: (before: unknown) => unknown): void {
  let node = body as Json;
  for (const key of place.slice(0, -1)) {
    const next = node[key];
    // an earlier change took the way away
    if (typeof next !== 'object' || next === null) return;
    node = next as Json;
  }
  const last = place.at(-1) ?? '';
  const value = to(node[last]);
  if (value !== undefined) node[last] = value;
  else if (Array.isArray(node)) node.splice(Number(last), 1);
  else delete node[last];
}

/** Bodies for a computation: allowed by its schema, nearly its example, and anything at all. */
export function arbBody(calculation: Calculation): fc.Arbitrary<unknown> {
  const schema = z.toJSONSchema(calculation.input, { io: 'input' }) as Json;
  const bodies = fc.oneof(
    { arbitrary: arbOf(schema, schema), weight: 5 },
    { arbitrary: arbMutation(calculation.example), weight: 4 },
    { arbitrary: fc.jsonValue({ maxDepth: 2 }), weight: 1 },
  );
  // an answer may show what it was given, so these words must not come from there
  return bodies.filter((body) => !/NaN|undefined|Infinity/u.test(JSON.stringify(body)));
}
