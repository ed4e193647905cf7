type Json = Record<string, unknown>;

const METHODS = ['get', 'post', 'put', 'patch', 'delete'] as const;
const COMPONENT = '#/components/schemas/';
const PLAIN_NAME = /^[A-Za-z_$][\w$]*$/;
/** Nobody sends these by hand: the client does, or the browser. */
const OWN_HEADERS: ReadonlySet<string> = new Set(['authorization', 'accept-encoding']);
/** A page that knows no version, or has no key, sends none and shows what the server answers to that. */
const ANSWERED_FOR: ReadonlySet<string> = new Set(['if-match', 'idempotency-key']);

interface Parameter {
  name: string;
  in: string;
  required?: boolean;
  schema: unknown;
}

/**
 * The client of our pages, from the OpenAPI document: one TypeScript type per schema, and per operation a constant with
 * its method and path whose type says what goes in and what comes out. Constants are single, so that a page carries
 * only the operations it uses.
 *
 * @param source the document as JSON text
 * @returns a TypeScript module
 */
export function renderWebClient(source: string): string {
  const document = JSON.parse(source) as Json;
  const { schemas } = document['components'] as { schemas: Record<string, Json> };
  const lines = ['// Generated from what the routes say when the server is compiled; not committed, do not edit.', ''];
  lines.push("import type { Operation } from './operation.ts';", '');
  for (const [name, schema] of Object.entries(schemas)) {
    lines.push(...docOf(schema), `export type ${typeName(name)} = ${typeOf(schema)};`, '');
  }
  for (const [path, item] of Object.entries(document['paths'] as Record<string, Record<string, Json>>)) {
    for (const method of METHODS) {
      const operation = item[method];
      if (operation !== undefined) lines.push(...renderOperation(method, path, operation), '');
    }
  }
  return lines.join('\n');
}

function renderOperation(method: string, path: string, operation: Json): string[] {
  const parameters = (operation['parameters'] ?? []) as readonly Parameter[];
  const parts = [
    `params: ${parametersOf(parameters, 'path')}`,
    `query: ${parametersOf(parameters, 'query')}`,
    `headers: ${parametersOf(parameters, 'header')}`,
    `body: ${bodyOf(operation)}`,
    `answers: ${answersOf(operation['responses'] as Record<string, Json>)}`,
  ];
  return [
    `/** ${String(operation['summary'])} */`,
    `export const ${String(operation['operationId'])}: Operation<{`,
    ...parts.map((part) => `  ${part};`),
    `}> = { method: '${method.toUpperCase()}', path: '${path}' };`,
  ];
}

function parametersOf(parameters: readonly Parameter[], place: string): string {
  const here = parameters.filter((one) => one.in === place && !OWN_HEADERS.has(one.name));
  if (here.length === 0) return 'undefined';
  const members = here.map(
    ({ name, required, schema }) =>
      `${key(name)}${required === true && !ANSWERED_FOR.has(name) ? '' : '?'}: ${typeOf(schema)}`,
  );
  return `{ ${members.join('; ')} }`;
}

/** A body in several media types is any of them: JSON as its type, everything else as text or bytes. */
function bodyOf(operation: Json): string {
  const body = operation['requestBody'] as { content: Record<string, Json>; required?: boolean } | undefined;
  if (body === undefined) return 'undefined';
  const types = Object.entries(body.content).map(([type, media]) =>
    isJson(type) ? typeOf(media['schema']) : type.startsWith('text/') ? 'string' : 'string | Blob',
  );
  if (body.required !== true) types.push('undefined');
  return [...new Set(types)].join(' | ');
}

function answersOf(responses: Record<string, Json>): string {
  const members = Object.entries(responses)
    .filter(([status]) => Number(status) < 400)
    .map(([status, response]) => `${status}: ${answerOf(response)}`);
  return `{ ${members.join('; ')} }`;
}

function answerOf(response: Json): string {
  const content = response['content'] as Record<string, Json> | undefined;
  if (content === undefined) return 'undefined';
  const json = Object.entries(content).find(([type]) => isJson(type));
  return json === undefined ? 'Blob' : typeOf(json[1]['schema']);
}

const isJson = (type: string): boolean => type === 'application/json' || type.endsWith('+json');

function typeOf(schema: unknown): string {
  if (schema === undefined || schema === true) return 'unknown';
  if (schema === false) return 'never';
  const node = schema as Json;
  const ref = node['$ref'];
  if (typeof ref === 'string') return typeName(ref.slice(COMPONENT.length));
  if (node['const'] !== undefined) return JSON.stringify(node['const']);
  if (Array.isArray(node['enum'])) return node['enum'].map((value) => JSON.stringify(value)).join(' | ');
  const choices = (node['anyOf'] ?? node['oneOf']) as unknown[] | undefined;
  if (choices !== undefined) return [...new Set(choices.map((one) => inner(typeOf(one))))].join(' | ');
  const all = node['allOf'] as unknown[] | undefined;
  if (all !== undefined) return all.map((one) => inner(typeOf(one))).join(' & ');
  const { type } = node;
  if (Array.isArray(type)) return type.map((one) => inner(typeOf({ ...node, type: one }))).join(' | ');
  return plainType(node);
}

function plainType(node: Json): string {
  switch (node['type']) {
    case 'string':
      return 'string';
    case 'number':
    case 'integer':
      return 'number';
    case 'boolean':
      return 'boolean';
    case 'null':
      return 'null';
    case 'array':
      return arrayType(node);
    default:
      return objectType(node);
  }
}

function arrayType({ items, prefixItems }: Json): string {
  if (Array.isArray(prefixItems)) return `readonly [${prefixItems.map(typeOf).join(', ')}]`;
  return `readonly ${inner(typeOf(items))}[]`;
}

function objectType(node: Json): string {
  const properties = Object.entries((node['properties'] ?? {}) as Record<string, Json>);
  const required = new Set((node['required'] ?? []) as string[]);
  const others = node['additionalProperties'];
  if (properties.length === 0) {
    if (typeof others === 'object' && others !== null) return `Readonly<Record<string, ${typeOf(others)}>>`;
    return node['type'] === 'object' ? 'Readonly<Record<string, unknown>>' : 'unknown';
  }
  const members = properties.flatMap(([name, schema]) => [
    ...docOf(schema),
    `${key(name)}${required.has(name) ? '' : '?'}: ${typeOf(schema)};`,
  ]);
  return `{\n${members.map((line) => `  ${line}`).join('\n')}\n}`;
}

/** Unions inside arrays, intersections and unions need their brackets. */
const inner = (type: string): string => (/ [|&] /.test(type) || type.startsWith('readonly ') ? `(${type})` : type);

function docOf(schema: Json): string[] {
  const text = schema['description'];
  return typeof text === 'string' ? [`/** ${text.replaceAll('*/', '* /')} */`] : [];
}

const key = (name: string): string => (PLAIN_NAME.test(name) ? name : `'${name}'`);

function typeName(name: string): string {
  return name.replace(/[^\w$]/g, '_');
}
