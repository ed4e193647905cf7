import { readFile } from 'node:fs/promises';
import { Validator } from '@seriousme/openapi-schema-validator';
import { Ajv2020 } from 'ajv/dist/2020.js';
import addFormatsModule from 'ajv-formats';
import type { FastifyInstance } from 'fastify';
import { afterAll, beforeAll, describe, expect, inject, test } from 'vitest';
import { describeDifferences } from '../../openapi/compare.ts';
import { renderDocuments } from '../../openapi/document.ts';
import { buildApp } from '../../src/app.ts';
import { loadConfig } from '../../src/config.ts';
import { type Deps, openDeps } from '../../src/deps.ts';
import { apiDocument, type Json } from '../../src/features/service/document-routes.ts';
import { DOCUMENT_NAMES } from '../../src/http/openapi/documents.ts';
import { PROBLEMS } from '../../src/http/frame/problems.ts';
import { createLogger } from '../../src/platform/logger.ts';

// The package is CommonJS whose typings describe an ES default export; at run time the import is the function.
const addFormats = addFormatsModule as unknown as (ajv: Ajv2020) => void;

/** Routes that are for people or for the documentation itself. Everything else must be in the document. */
const HIDDEN = new Set([
  'GET /',
  ...DOCUMENT_NAMES.map((name) => `GET /${name}.json`),
  'GET /problems',
  'GET /problems/{slug}',
  // Answers 404 with the list of computations; each of them is an operation of its own.
  'POST /v1/calculations/{name}',
  'GET /docs',
  'GET /docs/',
  'GET /docs/json',
  'GET /docs/yaml',
  'GET /docs/static/index.html',
  'GET /docs/static/swagger-initializer.js',
  'GET /docs/*',
  'GET /docs/examples/{name}',
  'GET /docs/start',
  'GET /docs/shops',
  'GET /docs/rule-sets',
  'GET /docs/operate',
  'GET /robots.txt',
  // For browsers, not for programs: it leads to a provider of accounts and back.
  'GET /sign-in/offer',
  'GET /docs/install',
  'GET /docs/integrate',
  'GET /rule-set.schema.json',
  // the pages and what they load
  'GET /garage',
  'GET /line',
  'GET /gate',
  'GET /office',
  'GET /enrol',
  'GET /car',
  'GET /shop',
  'GET /workshop',
  // `/assets/*`, as the framework prints a folder that has nothing but a wildcard
  'GET /*',
  'GET /icon.svg',
  'GET /icon-192.png',
  'GET /icon-512.png',
  'GET /icon-maskable-512.png',
  'GET /gate.webmanifest',
  'GET /worker.js',
]);

interface Operation {
  name: string;
  operationId?: string;
  summary?: string;
  tags?: string[];
  parameters?: { name: string; in: string; description?: string }[];
  requestBody?: { content: Record<string, Media> };
  responses: Record<string, { description: string; content?: Record<string, Media> }>;
}

interface Media {
  schema: Json;
  example?: unknown;
}

let deps: Deps;
let app: FastifyInstance;
let document: Json;
let operations: Operation[];

beforeAll(async () => {
  const config = { ...loadConfig({ LOG_LEVEL: 'silent' }), webDir: inject('webDir') };
  deps = openDeps(config, 'postgres://nobody@127.0.0.1:1/nothing', createLogger({ level: 'silent' }));
  app = await buildApp(deps);
  await app.ready();
  document = apiDocument(app);
  operations = operationsOf(document);
});
afterAll(async () => {
  await app.close();
  await deps.db.close();
});

test('is valid OpenAPI 3.1, by the published schema of the format', async () => {
  const validator = new Validator();
  const result = await validator.validate(structuredClone(document));
  expect(result.errors ?? []).toEqual([]);
  expect(result.valid).toBe(true);
  expect(validator.version).toBe('3.1');
});

test('is the committed one, in its parts', async () => {
  for (const [name, generated] of Object.entries(await renderDocuments())) {
    const committed = await readFile(new URL(`../../openapi/${name}.json`, import.meta.url), 'utf8');
    expect(describeDifferences(committed, generated), name).toEqual([]);
  }
});

test('has every route that is not hidden, and no other', () => {
  const routes = routesOf(app).filter((route) => !route.startsWith('HEAD '));
  const shown = operations.map((operation) => operation.name);
  expect(routes.filter((route) => !HIDDEN.has(route)).toSorted()).toEqual(shown.toSorted());
  expect([...HIDDEN].filter((route) => !routes.includes(route))).toEqual([]);
});

describe('every operation', () => {
  test('has an id of its own, a summary, a known tag and described parameters', () => {
    const ids = operations.map((operation) => operation.operationId);
    expect(new Set(ids).size).toBe(operations.length);
    const tags = (document['tags'] as { name: string }[]).map((tag) => tag.name);
    const bad = operations.filter(
      ({ operationId, summary, tags: own, parameters = [] }) =>
        !operationId ||
        !summary ||
        own?.length !== 1 ||
        !tags.includes(own[0] ?? '') ||
        parameters.some((parameter) => !parameter.description),
    );
    expect(bad.map((operation) => operation.name)).toEqual([]);
  });

  test('shows an example of its body and of a success', () => {
    const missing = operations.flatMap((operation) =>
      [
        ...mediaOf(operation.requestBody).filter((media) => media.example === undefined),
        ...successes(operation).flatMap((response) => mediaOf(response).filter((media) => media.example === undefined)),
        ...(successes(operation).length === 0 ? [operation] : []),
      ].map(() => operation.name),
    );
    expect(missing).toEqual([]);
  });

  test('answers everything that is no success with a problem, described', () => {
    const bad = operations.flatMap((operation) =>
      Object.entries(operation.responses)
        .filter(([status]) => Number(status) >= 400)
        .filter(([, response]) => {
          const media = response.content ?? {};
          const isProblem = Object.keys(media).join() === 'application/problem+json';
          const ref = media['application/problem+json']?.schema['$ref'];
          return !isProblem || ref !== '#/components/schemas/Problem' || !/^`[a-z-]+`: /.test(response.description);
        })
        .map(([status]) => `${operation.name} ${status}`),
    );
    expect(bad).toEqual([]);
  });

  test('names the problems that any operation can have', () => {
    for (const operation of operations) {
      expect(Object.keys(operation.responses), operation.name).toEqual(expect.arrayContaining(['429', '500', '503']));
      if (operation.name.includes('/v1/')) expect(Object.keys(operation.responses)).toContain('401');
    }
  });
});

describe('examples', () => {
  test('validate against their schemas', () => {
    expect(exampleFaults(document)).toEqual([]);
  });

  test('have no member that their schema does not know', () => {
    const closed = structuredClone(document);
    close(closed);
    expect(exampleFaults(closed)).toEqual([]);
  });
});

describe('schemas', () => {
  test('of responses promise neither defaults nor that nothing will be added', () => {
    const places = operations.flatMap((operation) =>
      Object.values(operation.responses).flatMap((response) =>
        mediaOf(response).flatMap((media) => findKeys(media.schema, ['default', 'additionalProperties'], document)),
      ),
    );
    expect([...new Set(places)].filter((place) => !place.endsWith('additionalProperties'))).toEqual([]);
    expect(places.filter((place) => place.endsWith('=false'))).toEqual([]);
  });

  test('of requests refuse unknown members', () => {
    const open = operations.flatMap((operation) =>
      mediaOf(operation.requestBody)
        .map((media) => resolve(media.schema, document))
        .filter((schema) => schema['type'] === 'object' && schema['additionalProperties'] !== false)
        .map(() => operation.name),
    );
    // it names the faults of a document of any shape, unknown members among them
    expect(open).toEqual(['POST /v1/rule-set-checks']);
  });

  test('describe every field, or the small object it belongs to', () => {
    expect(undescribed(document, '')).toEqual([]);
  });
});

test('every problem has its page', async () => {
  for (const slug of Object.keys(PROBLEMS)) {
    const page = await app.inject(`/problems/${slug}`);
    expect(page.statusCode, slug).toBe(200);
    expect(page.headers['content-type']).toMatch(/^text\/html/);
  }
});

function operationsOf(from: Json): Operation[] {
  return Object.entries(from['paths'] as Record<string, Record<string, Operation>>).flatMap(([path, item]) =>
    Object.entries(item).map(([method, operation]) => ({
      ...operation,
      name: `${method.toUpperCase()} ${path}`,
      responses: Object.fromEntries(
        Object.entries(operation.responses).map(([status, response]) => [status, resolved(from, response)]),
      ),
    })),
  );
}

type Response = Operation['responses'][string];

function resolved(from: Json, response: Response | { $ref: string }): Response {
  if (!('$ref' in response)) return response;
  const { responses } = from['components'] as { responses: Record<string, Response> };
  const shared = responses[response.$ref.replace('#/components/responses/', '')];
  if (shared === undefined) throw new Error(`${response.$ref} leads nowhere`);
  return shared;
}

/** `METHOD /path/{param}` of every route, read from the tree that the framework prints: four columns a level. */
function routesOf(from: FastifyInstance): string[] {
  const parents: string[] = [];
  return from
    .printRoutes({ commonPrefix: false })
    .split('\n')
    .flatMap((row) => {
      const match = /^([\s│]*)[├└]── (\S*)(?: \(([A-Z, ]+)\))?$/.exec(row);
      if (match === null) return [];
      const level = (match[1] ?? '').length / 4;
      const path = `${level === 0 ? '' : parents[level - 1]}${match[2]}`;
      parents[level] = path;
      const methods = match[3]?.split(', ') ?? [];
      return methods.map((method) => `${method} ${path.replaceAll(/:(\w+)/g, '{$1}')}`);
    });
}

function mediaOf(holder: { content?: Record<string, Media> } | undefined): Media[] {
  return Object.values(holder?.content ?? {});
}

function successes(operation: Operation) {
  return Object.entries(operation.responses)
    .filter(([status]) => Number(status) < 300)
    .map(([, response]) => response);
}

function exampleFaults(from: Json): string[] {
  const ajv = new Ajv2020({ strict: false, allErrors: true });
  addFormats(ajv);
  const shown = operationsOf(from).flatMap((operation) =>
    [operation.requestBody, ...Object.values(operation.responses)]
      .flatMap(mediaOf)
      .filter((media) => media.example !== undefined)
      .map(({ schema, example }) => ({ operation, schema, example })),
  );
  // One document: what several of them refer to is compiled once.
  ajv.addSchema({ $id: 'all', components: from['components'], shown: shown.map(({ schema }) => schema) });
  return shown.flatMap(({ operation, example }, at) => {
    const validate = ajv.getSchema(`all#/shown/${at}`);
    if (validate === undefined) throw new Error(`no schema for an example of ${operation.name}`);
    if (validate(example)) return [];
    return (validate.errors ?? []).map(
      ({ instancePath, message, params }) => `${operation.name} ${instancePath} ${message} ${JSON.stringify(params)}`,
    );
  });
}

/** Closes every object schema, so that a misspelt member of an example shows. */
function close(node: unknown): void {
  if (typeof node !== 'object' || node === null) return;
  for (const [key, part] of Object.entries(node)) if (key !== 'example') close(part);
  const schema = node as Json;
  if (typeof schema['properties'] !== 'object' || schema['additionalProperties'] !== undefined) return;
  // `Problem` is open by its nature (RFC 9457, section 3.2: extension members).
  if ('requestId' in (schema['properties'] as object)) return;
  schema['additionalProperties'] = false;
}

function resolve(schema: Json, root: Json): Json {
  const ref = schema['$ref'];
  if (typeof ref !== 'string') return schema;
  const schemas = (root['components'] as Json)['schemas'] as Record<string, Json>;
  return schemas[ref.split('/').at(-1) ?? ''] ?? {};
}

/** Places of the given keywords in a schema and all it refers to, with their value where it is a boolean. */
function findKeys(schema: unknown, keys: readonly string[], root: Json, seen = new Set<unknown>()): string[] {
  if (typeof schema !== 'object' || schema === null || seen.has(schema)) return [];
  seen.add(schema);
  const node = schema as Json;
  const here = keys
    .filter((key) => key in node)
    .map((key) => (typeof node[key] === 'boolean' ? `${key}=${String(node[key])}` : key));
  const target = '$ref' in node ? findKeys(resolve(node, root), keys, root, seen) : [];
  // Members of `properties` are names of fields, not keywords.
  const parts = Object.entries(node).flatMap(([key, part]) =>
    key === 'properties'
      ? Object.values(part as Json).flatMap((field) => findKeys(field, keys, root, seen))
      : findKeys(part, keys, root, seen),
  );
  return [...here, ...target, ...parts];
}

/** Fields without a description; members of an object that is described itself (`FL`, `value`) need none of their own. */
function undescribed(node: unknown, place: string): string[] {
  if (typeof node !== 'object' || node === null) return [];
  const { properties, description } = node as { properties?: Record<string, Json>; description?: unknown };
  const fields = typeof description === 'string' ? [] : Object.entries(properties ?? {});
  const here = fields
    .filter(([, field]) => !resolve(field, document)['description'] && !field['description'] && !('const' in field))
    .map(([name]) => `${place}/${name}`);
  const parts = Object.entries(node).flatMap(([key, part]) =>
    key === 'example' ? [] : undescribed(part, `${place}/${key}`),
  );
  return [...here, ...parts];
}
