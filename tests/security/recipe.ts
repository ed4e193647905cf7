import fc from 'fast-check';
import type { ApiModel, Media, Operation } from './api-model.ts';
import { FORMULAS, HOSTILE_SEGMENTS, HOSTILE_TEXTS, YAML_BOMBS } from './hostile-values.ts';
import { arbMutation, type Mutation } from './mutations.ts';
import type { SchemaValues } from './schema-values.ts';

/** A body before it is bytes: what it is made of depends on its media type. */
export interface BodyRecipe {
  mediaType: string;
  /** a JSON value with learnt parts, or a text that stands as it is */
  value: unknown;
  text?: string;
  mutations: readonly Mutation[];
  pick: number;
}

/** A request before it is known which things exist. */
export interface Recipe {
  operation: Operation;
  /** chooses the caller, and what the request is about */
  pick: number;
  callerFits: boolean;
  /** an entrant asks about another's */
  foreign: boolean;
  segment: string | undefined;
  ids: 'related' | 'any' | 'unknown';
  query: Readonly<Record<string, unknown>>;
  body: BodyRecipe | undefined;
  ifMatch: string | undefined;
  key: string | undefined;
  tamper: Tamper;
}

export const TAMPERS = [
  'none',
  'method',
  'media type',
  'charset',
  'coding',
  'cut short',
  'empty',
  'byte order mark',
  'bad bytes',
  'no media type',
  'duplicate headers',
  'bad authorization',
  'token in query',
  'body on any method',
  'accept',
  'override',
  'huge',
] as const;
export type Tamper = (typeof TAMPERS)[number];

/** Keys of a well-formed request, and odd ones (printable or not, long, quoted, listed). */
const IF_MATCH = [
  'current',
  'current',
  'current',
  'current',
  '*',
  '"0"',
  'W/"1"',
  '"1", "2"',
  '1',
  '""',
  '"',
  '"\u00e9"',
  'x'.repeat(3000),
];
const KEYS = [
  'fresh',
  'fresh',
  'fresh',
  'fresh',
  'again',
  '',
  '"quoted"',
  ' ',
  'a b',
  'é',
  'x'.repeat(256),
  '"',
  '1, 2',
];

/** What is done to a thing once leaves little to do with it. */
const ENDS = /^(withdraw|retire|erase|revoke|delete|remove)/;

/** Requests to every operation, most of them nearly right. */
export function arbRecipe(api: ApiModel, values: SchemaValues): fc.Arbitrary<Recipe> {
  const serverKeys = responseKeys(api);
  return fc.oneof(
    ...api.operations.map((operation) => ({
      weight: weightOf(operation),
      arbitrary: arbOf(operation, values, serverKeys),
    })),
  );
}

/** Most can go wrong where a body is read. */
function weightOf({ id, bodies }: Operation): number {
  if (ENDS.test(id)) return 1;
  return bodies.size > 0 ? 6 : 4;
}

function arbOf(operation: Operation, values: SchemaValues, serverKeys: readonly string[]): fc.Arbitrary<Recipe> {
  const orNone = <T>(weight: number, arbitrary: fc.Arbitrary<T>) =>
    fc.oneof({ weight: 100 - weight, arbitrary: fc.constant(undefined) }, { weight, arbitrary });
  const tampers = fc.constantFrom(...TAMPERS.filter((one) => one !== 'none' && one !== 'huge'));
  return fc.record({
    operation: fc.constant(operation),
    pick: fc.nat(),
    callerFits: fc.nat(9).map((roll) => roll < 7),
    segment: orNone(5, fc.constantFrom(...HOSTILE_SEGMENTS)),
    ids: fc.oneof(
      { weight: 88, arbitrary: fc.constant('related' as const) },
      { weight: 4, arbitrary: fc.constant('any' as const) },
      { weight: 8, arbitrary: fc.constant('unknown' as const) },
    ),
    foreign: fc.nat(9).map((roll) => roll === 0),
    query: arbQuery(operation, values),
    body: operation.bodies.size === 0 ? fc.constant(undefined) : arbBody(operation, values, serverKeys),
    ifMatch: has(operation, 'if-match')
      ? orNone(92, fc.constantFrom(...IF_MATCH))
      : orNone(2, fc.constantFrom(...IF_MATCH)),
    key: has(operation, 'idempotency-key') ? orNone(92, fc.constantFrom(...KEYS)) : orNone(2, fc.constantFrom(...KEYS)),
    tamper: fc.oneof(
      { weight: 900, arbitrary: fc.constant<Tamper>('none') },
      { weight: 100, arbitrary: tampers },
      { weight: 1, arbitrary: fc.constant<Tamper>('huge') },
    ),
  });
}

const has = (operation: Operation, header: string) => operation.headers.some(({ name }) => name === header);

function arbQuery(operation: Operation, values: SchemaValues): fc.Arbitrary<Record<string, unknown>> {
  const fitting = Object.fromEntries(operation.query.map(({ name, schema }) => [name, values.fitting(schema, name)]));
  const required = operation.query.flatMap(({ name, required: needed }) => (needed ? [name] : []));
  const right = fc.record(fitting, { requiredKeys: required, noNullPrototype: true });
  const least = fc.record(
    Object.fromEntries(required.flatMap((name) => (fitting[name] === undefined ? [] : [[name, fitting[name]]]))),
    { noNullPrototype: true },
  );
  const names = [...operation.query.map(({ name }) => name), 'noSuchKey', 'limit', '__proto__', 'a[b]'];
  const wrong = fc.tuple(right, fc.constantFrom(...names), fc.constantFrom(...HOSTILE_TEXTS, '-1', '1e9', '201'));
  return fc.oneof(
    { weight: 40, arbitrary: right },
    { weight: 50, arbitrary: least },
    { weight: 10, arbitrary: wrong.map(([query, name, text]) => ({ ...query, [name]: text })) },
  );
}

function arbBody(operation: Operation, values: SchemaValues, serverKeys: readonly string[]): fc.Arbitrary<BodyRecipe> {
  const forms = [...operation.bodies].map(([mediaType, media]) => {
    const isText = mediaType === 'text/csv' || mediaType.startsWith('image/');
    const value = isText ? fc.constant(media.example) : jsonValues(media, values);
    const mutations = fc.oneof(
      { weight: 5, arbitrary: fc.constant([]) },
      { weight: 4, arbitrary: fc.tuple(arbMutation(serverKeys)) },
      { weight: 1, arbitrary: fc.tuple(arbMutation(serverKeys), arbMutation(serverKeys)) },
    );
    const text = arbText(mediaType, media);
    return fc.record({
      mediaType: fc.constant(mediaType),
      value,
      mutations,
      pick: fc.nat(),
      ...(text === undefined ? {} : { text }),
    });
  });
  return fc.oneof(...(forms as fc.Arbitrary<BodyRecipe>[]));
}

function jsonValues(media: Media, values: SchemaValues): fc.Arbitrary<unknown> {
  const made = values.fitting(media.schema);
  if (media.example === undefined || typeof media.example === 'string') return made;
  return fc.oneof(made, fc.constant(values.fromExample(media.example)));
}

/** Text bodies: the document's example, with hostile cells or in whole. */
function arbText(mediaType: string, media: Media): fc.Arbitrary<string | undefined> | undefined {
  if (mediaType === 'application/yaml') {
    return fc.oneof(
      { weight: 6, arbitrary: fc.constant(undefined) },
      { weight: 4, arbitrary: fc.constantFrom(...YAML_BOMBS) },
    );
  }
  if (mediaType !== 'text/csv') return undefined;
  const lines = (typeof media.example === 'string' ? media.example : 'carNumber,runGroup\r\n7,Novice\r\n').split(
    /\r?\n/,
  );
  const cell = fc.constantFrom(...FORMULAS, ...HOSTILE_TEXTS, 'Novice', '07', '"', '""', '"a""b"', ',', '\n');
  return fc.array(fc.tuple(fc.nat(), fc.nat(), cell), { maxLength: 3 }).map((changes) => {
    const rows = lines.map((line) => line.split(','));
    for (const [y, x, text] of changes) {
      const row = rows[y % rows.length] ?? [];
      if (row.length > 0) row[x % row.length] = text;
    }
    return rows.map((row) => row.join(',')).join('\r\n');
  });
}

/** What answers carry and no request should set: a caller who sends it back must not have his way. */
function responseKeys(api: ApiModel): string[] {
  const keys = new Set<string>();
  for (const { responses } of api.operations) {
    for (const [status, content] of responses) {
      if (status >= 300) continue;
      for (const { schema } of content.values()) {
        for (const key of Object.keys(api.resolve(schema)['properties'] ?? {})) keys.add(key);
      }
    }
  }
  return [...keys].toSorted();
}
