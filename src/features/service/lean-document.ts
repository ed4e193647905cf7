import { pascalCase } from '../../http/openapi/rule-set-schema.ts';
import type { Json } from './document-routes.ts';

/** What is served as the example of a request or an answer. */
export interface ServedExample {
  mediaType: string;
  value: unknown;
}

interface Operation {
  operationId: string;
  parameters?: Json[];
  requestBody?: { content: Record<string, Json> };
  responses: Record<string, { $ref?: string; headers?: Json; content?: Record<string, Json> }>;
}

type Shared = Record<'parameters' | 'headers', Map<string, Json>>;

/**
 * The document for programs: what several operations have stands once in the components, and examples stand at
 * addresses of their own. It says the same as the whole one, in less than half of the bytes.
 *
 * @param whole what `apiDocument` made; it is changed
 */
export function leanDocument(whole: Json): Json {
  const components = whole['components'] as Record<string, Json>;
  const shared: Shared = { parameters: new Map(), headers: new Map() };
  // those that have a name already keep it for themselves
  for (const [name, header] of Object.entries(components['headers'] ?? {})) shared.headers.set(name, header as Json);
  for (const operation of operationsIn(whole)) leanOperation(operation, shared, components);
  for (const { post } of Object.values(whole['webhooks'] as Record<string, { post: Operation }>)) {
    post.parameters = shareParameters(post.parameters ?? [], shared);
  }
  for (const response of Object.values(components['responses'] ?? {}) as Operation['responses'][string][]) {
    if (response.headers !== undefined) response.headers = shareHeaders(response.headers, shared);
    for (const media of Object.values(response.content ?? {})) delete media['example'];
  }
  components['parameters'] = Object.fromEntries(shared.parameters);
  components['headers'] = Object.fromEntries(shared.headers);
  shareSchemas(whole, components['schemas'] ?? {});
  return whole;
}

function leanOperation(operation: Operation, shared: Shared, components: Record<string, Json>): void {
  if (operation.parameters !== undefined) operation.parameters = shareParameters(operation.parameters, shared);
  for (const { media, slot, name } of exampleSlots(operation)) {
    delete media['example'];
    media['examples'] = { [slot]: { externalValue: `/docs/examples/${name}` } };
  }
  for (const response of Object.values(operation.responses)) {
    if (response.headers !== undefined) response.headers = shareHeaders(response.headers, shared);
    for (const media of Object.values(response.content ?? {})) {
      media['schema'] = shareEnvelope(media['schema'] as Json, components);
    }
  }
}

/** The examples of requests and answers by name, of the whole document. */
export function servedExamples(whole: Json): Map<string, ServedExample> {
  return new Map(
    operationsIn(whole).flatMap((operation) =>
      exampleSlots(operation).map(
        ({ media, mediaType, name }) => [name, { mediaType, value: media['example'] }] as const,
      ),
    ),
  );
}

interface ExampleSlot {
  media: Json;
  mediaType: string;
  /** what the document calls the example at its place */
  slot: 'request' | 'answer';
  /** what it is served under */
  name: string;
}

/** Where an operation has examples: of its request, and of its answers. */
function exampleSlots({ operationId, requestBody, responses }: Operation): ExampleSlot[] {
  const of = (content: Record<string, Json> | undefined, slot: ExampleSlot['slot'], about: string): ExampleSlot[] =>
    Object.entries(content ?? {})
      .filter(([, media]) => 'example' in media)
      .map(([mediaType, media]) => ({ media, mediaType, slot, name: exampleName(operationId, about, mediaType) }));
  return [
    ...of(requestBody?.content, 'request', 'request'),
    ...Object.entries(responses).flatMap(([status, { content }]) => of(content, 'answer', status)),
  ];
}

function operationsIn(document: Json): Operation[] {
  return Object.values(document['paths'] as Record<string, Record<string, Operation>>).flatMap((item) =>
    Object.values(item),
  );
}

/** `createEntry-201`, `createEntry-request`; other media types than JSON are named too. */
function exampleName(operationId: string, about: string, mediaType: string): string {
  const kind = mediaType === 'application/json' ? '' : `-${mediaType.split('/')[1]?.replaceAll(/[^a-z0-9]+/g, '-')}`;
  return `${operationId}-${about}${kind}`;
}

function shareParameters(parameters: readonly Json[], { parameters: known }: Shared): Json[] {
  return parameters.map((parameter) => {
    const name = nameFor(String(parameter['name']), parameter, known);
    return name === undefined ? parameter : { $ref: `#/components/parameters/${name}` };
  });
}

function shareHeaders(headers: Json, { headers: known }: Shared): Json {
  return Object.fromEntries(
    Object.entries(headers).map(([header, says]) => {
      if ('$ref' in (says as Json)) return [header, says];
      const name = nameFor(header, says as Json, known);
      return [header, name === undefined ? says : { $ref: `#/components/headers/${name}` }];
    }),
  );
}

/** The component with this content, made where the name is free; `undefined`: others have the name, it stays where it is. */
function nameFor(name: string, content: Json, known: Map<string, Json>): string | undefined {
  const component = pascalCase(name);
  const there = known.get(component);
  if (there === undefined) known.set(component, content);
  return there === undefined || JSON.stringify(there) === JSON.stringify(content) ? component : undefined;
}

const ENVELOPE = 'CalculationAnswer';

/** All computations answer with the same around a result of their own. */
function shareEnvelope(schema: Json, components: Record<string, Json>): Json {
  const properties = schema['properties'] as Json | undefined;
  if (properties === undefined || !('result' in properties) || !('assumptions' in properties)) return schema;
  const { result, ...common } = properties;
  const required = (schema['required'] as string[]).filter((name) => name !== 'result');
  const schemas = components['schemas'] ?? {};
  schemas[ENVELOPE] ??= {
    type: 'object',
    description: 'What every computation answers around its result',
    properties: common,
    required,
  };
  const own = { type: 'object', properties: { result }, required: ['result'] };
  return { allOf: [{ $ref: `#/components/schemas/${ENVELOPE}` }, own] };
}

/** Characters of JSON from which a schema that stands at several places is said once, under a name. */
const WORTH_A_NAME = 200;
/** Keywords under which a schema stands, several of them, or several by name. */
const HOLDERS: Readonly<Record<string, 'one' | 'list' | 'named'>> = {
  schema: 'one',
  items: 'one',
  additionalProperties: 'one',
  anyOf: 'list',
  oneOf: 'list',
  allOf: 'list',
  properties: 'named',
};
const NO_SCHEMAS = new Set(['example', 'examples', 'default', 'enum', 'const']);

/** Where a schema stands, and what it can be named by: its field, and whose field it is. */
interface SchemaSlot {
  holder: Json;
  key: string;
  field: string;
  owner: string;
}

/** What stands word for word at several places gets a name, the largest first; what has one already is referred to. */
function shareSchemas(document: Json, schemas: Json): void {
  const known = new Map(Object.entries(schemas).map(([name, schema]) => [JSON.stringify(schema), name]));
  const slots = new Map<string, SchemaSlot[]>();
  const { paths, webhooks } = document;
  const inComponents = Object.entries(schemas).flatMap(([name, schema]) => schemaSlots(schema, name));
  for (const slot of [...schemaSlots([paths, webhooks], ''), ...inComponents]) {
    leaveRepeated(slot.holder[slot.key], schemas);
    const text = JSON.stringify(slot.holder[slot.key]);
    if (text.length >= WORTH_A_NAME) slots.set(text, [...(slots.get(text) ?? []), slot]);
  }
  const gone = new Set<unknown>();
  for (const [text, places] of [...slots].toSorted(([a], [b]) => b.length - a.length)) {
    const there = places.filter(({ holder }) => !gone.has(holder));
    const [first] = there;
    if (first === undefined || (there.length < 2 && !known.has(text))) continue;
    const name = known.get(text) ?? freeName(first, schemas);
    if (known.has(text)) forget(first.holder[first.key], gone);
    else schemas[name] = first.holder[first.key];
    for (const { holder, key } of there.slice(1)) forget(holder[key], gone);
    for (const { holder, key } of there) holder[key] = { $ref: `#/components/schemas/${name}` };
  }
}

/** Beside a reference nothing stands that the schema it refers to says already. */
function leaveRepeated(schema: unknown, schemas: Json): void {
  const { $ref, ...beside } = (schema ?? {}) as Json;
  if (typeof $ref !== 'string') return;
  const said = (schemas[$ref.slice('#/components/schemas/'.length)] ?? {}) as Json;
  for (const [name, value] of Object.entries(beside)) {
    if (JSON.stringify(value) === JSON.stringify(said[name])) delete (schema as Json)[name];
  }
}

function schemaSlots(node: unknown, owner: string, field = ''): SchemaSlot[] {
  if (typeof node !== 'object' || node === null) return [];
  if (Array.isArray(node)) return node.flatMap((part) => schemaSlots(part, owner, field));
  const { operationId } = node as Json;
  const own = typeof operationId === 'string' ? operationId : owner;
  return Object.entries(node as Json).flatMap(([key, part]) => {
    if (NO_SCHEMAS.has(key) || typeof part !== 'object' || part === null) return [];
    const kind = HOLDERS[key];
    if (kind === undefined) return schemaSlots(part, own, field);
    const holder = (kind === 'one' ? node : part) as Json;
    return (kind === 'one' ? [key] : Object.keys(holder)).flatMap((at) => {
      const name = kind === 'named' ? at : field;
      return [{ holder, key: at, field: name, owner: own }, ...schemaSlots(holder[at], own, name)];
    });
  });
}

/** By whose field it is, so that what is added elsewhere does not change the names of others. */
function freeName({ field, owner }: SchemaSlot, schemas: Json): string {
  const name = pascalCase(`${owner}-${field === '' ? 'part' : field}`);
  for (let number = 1; ; number += 1) {
    const numbered = number === 1 ? name : `${name}${number}`;
    if (!(numbered in schemas)) return numbered;
  }
}

function forget(node: unknown, gone: Set<unknown>): void {
  if (typeof node !== 'object' || node === null) return;
  gone.add(node);
  for (const part of Object.values(node)) forget(part, gone);
}
