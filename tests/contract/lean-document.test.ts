import { readFileSync } from 'node:fs';
import { gzipSync } from 'node:zlib';
import { Ajv2020 } from 'ajv/dist/2020.js';
import type { FastifyInstance } from 'fastify';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import { buildApp } from '../../src/app.ts';
import { loadConfig } from '../../src/config.ts';
import { type Deps, openDeps } from '../../src/deps.ts';
import { apiDocument, type Json } from '../../src/features/service/document-routes.ts';
import { DOCUMENT_NAMES } from '../../src/http/openapi/documents.ts';
import { createLogger } from '../../src/platform/logger.ts';

let deps: Deps;
let app: FastifyInstance;
let whole: Json;
/** The documents for programs by name, and all of them put together. */
let parts: Json[];
let lean: Json;

beforeAll(async () => {
  const config = { ...loadConfig({ LOG_LEVEL: 'silent' }), webDir: inject('webDir'), rateLimitPerMinute: 1_000_000 };
  deps = openDeps(config, 'postgres://nobody@127.0.0.1:1/nothing', createLogger({ level: 'silent' }));
  app = await buildApp(deps);
  await app.ready();
  whole = JSON.parse(JSON.stringify(apiDocument(app))) as Json;
  parts = await Promise.all(DOCUMENT_NAMES.map(async (name) => (await app.inject(`/${name}.json`)).json<Json>()));
  lean = together(parts);
});
afterAll(async () => {
  await app.close();
  await deps.db.close();
});

test('the document for programs says what the whole one says', () => {
  for (const part of ['paths', 'webhooks']) {
    const [ours, all] = [written(lean, part), written(whole, part)];
    expect(Object.keys(ours).toSorted()).toEqual(Object.keys(all).toSorted());
    for (const name of Object.keys(all)) expect(ours[name], name).toEqual(all[name]);
  }
});

test('the example of every request and answer is served under the address that the document gives', async () => {
  const places = Object.entries(whole['paths'] as Record<string, Record<string, Json>>).flatMap(([path, item]) =>
    Object.entries(item).flatMap(([method, operation]) =>
      Object.entries(partsOf(operation)).flatMap(([status, { content }]) =>
        Object.entries((content ?? {}) as Record<string, Json>).map(([type, media]) => {
          return { at: { path, method, status, type }, example: media['example'] };
        }),
      ),
    ),
  );
  for (const { at, example } of places) {
    const [{ externalValue }] = Object.values(mediaOf(lean, at)['examples'] as Json) as [{ externalValue: string }];
    const got = await app.inject(externalValue);
    expect(got.statusCode, externalValue).toBe(200);
    expect(typeof example === 'string' ? got.body : got.json(), externalValue).toEqual(example);
  }
  expect(places.length).toBeGreaterThan(170);
  expect((await app.inject('/docs/examples/nothing-200')).statusCode).toBe(404);
});

test('every operation stands in one of the documents, beside the parts that it refers to and no others', () => {
  const inParts = parts.flatMap((part) => operationsIn(part).map((one) => String(one['operationId'])));
  expect(inParts.toSorted()).toEqual(
    operationsIn(whole)
      .map((one) => String(one['operationId']))
      .toSorted(),
  );
  for (const part of parts) {
    const text = JSON.stringify(part);
    const referred = new Set([...text.matchAll(/"#\/components\/(\w+\/[^"]+)"/g)].map((match) => match[1]));
    const { securitySchemes: _, ...shared } = part['components'] as Record<string, Json>;
    const there = Object.entries(shared).flatMap(([kind, named]) =>
      Object.keys(named).map((name) => `${kind}/${name}`),
    );
    expect(there.toSorted()).toEqual([...referred].toSorted());
    const tags = new Set(operationsIn(part).flatMap((one) => one['tags'] as string[]));
    expect((part['tags'] as { name: string }[]).map((tag) => tag.name).toSorted()).toEqual([...tags].toSorted());
  }
});

test('a name means the same in each of the documents', () => {
  for (const part of parts) {
    for (const [kind, named] of Object.entries(part['components'] as Record<string, Json>)) {
      for (const [name, says] of Object.entries(named)) expect(says, name).toEqual(componentOf(lean, kind, name));
    }
  }
});

test('stays small: what a program loads, and what a change shows', () => {
  for (const [at, name] of DOCUMENT_NAMES.entries()) {
    const text = readFileSync(new URL(`../../openapi/${name}.json`, import.meta.url));
    expect(text.length, name).toBeLessThan(400_000);
    expect(gzipSync(text, { level: 9 }).length, name).toBeLessThan(60_000);
    expect(gzipSync(JSON.stringify(parts[at]), { level: 9 }).length, name).toBeLessThan(60_000);
    const rows = text.toString().split('\n');
    for (const path of Object.keys((parts[at] ?? {})['paths'] as Json)) {
      expect(rows.filter((row) => row.startsWith(`${JSON.stringify(path)}:`))).toHaveLength(1);
    }
  }
});

test('has no default that is an object or a list, and no pattern beside the format of an id', () => {
  const found: string[] = [];
  walk(lean, (node, path) => {
    if (path.includes('example') || path.at(-1) === 'properties') return;
    if (typeof node['default'] === 'object' && node['default'] !== null) found.push(path.join('/'));
    if (node['format'] === 'uuid' && 'pattern' in node) found.push(path.join('/'));
  });
  expect(found).toEqual([]);
});

test('every operation is described, and says which headers it cannot do without', () => {
  const operations = operationsIn(lean);
  expect(operations.filter((operation) => !operation['description']).map((one) => one['operationId'])).toEqual([]);
  const needs = new Map<string, string[]>();
  for (const operation of operations) {
    const parameters = (operation['parameters'] ?? []) as Json[];
    const headers = parameters.map((one) => resolve(lean, one)).filter((one) => one['in'] === 'header');
    for (const { name, required } of headers) {
      if (required === true)
        needs.set(String(name), [...(needs.get(String(name)) ?? []), String(operation['operationId'])]);
    }
  }
  expect([...needs.keys()].toSorted()).toEqual(['idempotency-key', 'if-match']);
  const refusing = (problem: string) =>
    operations
      .filter((one) => Object.values(one['responses'] as Json).some((response) => says(response as Json, problem)))
      .map((one) => String(one['operationId']));
  expect(needs.get('if-match')?.toSorted()).toEqual(refusing('precondition-required').toSorted());
  expect(needs.get('idempotency-key')?.toSorted()).toEqual(refusing('idempotency-key-required').toSorted());
});

test('schemas of the components are sound by themselves', () => {
  const ajv = new Ajv2020({ strict: false, validateFormats: false });
  // One document: what several of them refer to is compiled once.
  ajv.addSchema({ $id: 'all', components: lean['components'] });
  for (const name of Object.keys((lean['components'] as Record<string, Json>)['schemas'] ?? {})) {
    expect(ajv.getSchema(`all#/components/schemas/${name}`), name).toBeTypeOf('function');
  }
});

const operationsIn = (document: Json): Json[] =>
  Object.values(document['paths'] as Record<string, Record<string, Json>>).flatMap(Object.values);

/** One document with all that the parts have; of two of one name the later. */
function together(documents: readonly Json[]): Json {
  const all = (key: string): Json[] => documents.map((one) => (one[key] ?? {}) as Json);
  const components: Record<string, Json> = {};
  for (const [kind, named] of all('components').flatMap(Object.entries)) {
    components[kind] = { ...components[kind], ...(named as Json) };
  }
  return {
    paths: Object.assign({}, ...all('paths')) as Json,
    webhooks: Object.assign({}, ...all('webhooks')) as Json,
    components,
  };
}

function says(response: Json, problem: string): boolean {
  return String(resolve(lean, response)['description']).includes(`\`${problem}\``);
}

/** What an operation takes and answers, by `request` and status. */
function partsOf({ requestBody, responses }: Json): Record<string, Json> {
  const request: Record<string, Json> = requestBody === undefined ? {} : { request: requestBody as Json };
  return { ...request, ...(responses as Record<string, Json>) };
}

function mediaOf(document: Json, at: { path: string; method: string; status: string; type: string }): Json {
  const item = (document['paths'] as Record<string, Record<string, Json>>)[at.path]?.[at.method] ?? {};
  const part = partsOf(item)[at.status] ?? {};
  return (part['content'] as Record<string, Json>)[at.type] ?? {};
}

function resolve(document: Json, node: Json): Json {
  const ref = node['$ref'];
  if (typeof ref !== 'string') return node;
  const [kind = '', name = ''] = ref.split('/').slice(-2);
  return componentOf(document, kind, name);
}

const componentOf = (document: Json, kind: string, name: string): Json =>
  (document['components'] as Record<string, Record<string, Json>>)[kind]?.[name] ?? {};

/** A part with everything written out where it is used, and without examples: what it says, not how. */
function written(document: Json, part: string): Json {
  return expand(document[part], document, []) as Json;
}

function expand(node: unknown, document: Json, inside: readonly string[]): unknown {
  if (Array.isArray(node)) return node.map((one) => expand(one, document, inside));
  if (typeof node !== 'object' || node === null) return node;
  const ref = (node as Json)['$ref'];
  if (typeof ref === 'string') {
    // a schema that holds itself stays a reference
    if (inside.includes(ref)) return { $ref: ref };
    const { $ref: _, ...beside } = node as Json;
    const target = expand(resolve(document, node as Json), document, [...inside, ref]) as Json;
    return { ...target, ...(expand(beside, document, inside) as Json) };
  }
  const kept = Object.entries(node).filter(([key, value]) => !isExample(key, value));
  return merged(Object.fromEntries(kept.map(([key, value]) => [key, expand(value, document, inside)])));
}

/** `example` and `examples` as keywords; a field of such a name is a schema. */
function isExample(key: string, value: unknown): boolean {
  if (key !== 'example' && key !== 'examples') return false;
  return typeof value !== 'object' || value === null || !('description' in value && 'type' in value);
}

/** Two objects that must both hold, as the one that says the same. */
function merged(node: Json): Json {
  const parts = node['allOf'] as Json[] | undefined;
  if (parts?.length !== 2 || !parts.every((part) => part['type'] === 'object')) return node;
  const [first = {}, second = {}] = parts;
  const { result, ...others } = { ...(first['properties'] as Json), ...(second['properties'] as Json) };
  const { name, ...behind } = others;
  return {
    type: 'object',
    properties: { name, result, ...behind },
    required: ['name', 'result', ...(first['required'] as string[]).filter((one) => one !== 'name')],
  };
}

function walk(node: unknown, visit: (node: Json, path: readonly string[]) => void, path: readonly string[] = []): void {
  if (typeof node !== 'object' || node === null) return;
  if (!Array.isArray(node)) visit(node as Json, path);
  for (const [key, part] of Object.entries(node)) walk(part, visit, [...path, key]);
}
