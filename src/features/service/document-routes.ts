import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import swaggerUi from '@fastify/swagger-ui';
import type { FastifyInstance, RouteOptions } from 'fastify';
import { z } from 'zod';
import { etagOf, isNotModified } from '../../http/frame/headers.ts';
import { notFound } from '../../http/frame/problem.ts';
import { DOCUMENT_NAMES, type DocumentName, DOCUMENTS, TAGS } from '../../http/openapi/documents.ts';
import { ruleSetJsonSchema } from '../../http/openapi/rule-set-schema.ts';
import { leanDocument, type ServedExample, servedExamples } from './lean-document.ts';

/** One of something for each document that programs load. */
export type ByDocument<Of> = Record<DocumentName, Of>;

export function mapDocuments<From, To>(documents: ByDocument<From>, to: (from: From) => To): ByDocument<To> {
  return byDocument((name) => to(documents[name]));
}

function byDocument<Of>(make: (name: DocumentName) => Of): ByDocument<Of> {
  // every name is in the list, which the keys of the type were made from
  return Object.fromEntries(DOCUMENT_NAMES.map((name) => [name, make(name)])) as ByDocument<Of>;
}

/**
 * The documents for programs: each has the operations of its tags, and of the shared parts what it refers to. A part has
 * one name and says one thing in all of them.
 *
 * @param whole what `apiDocument` made; it is changed
 */
export function leanDocuments(whole: Json): ByDocument<Json> {
  const lean = leanDocument(whole);
  return byDocument((name) => documentPart(lean, name));
}

function documentPart(lean: Json, name: DocumentName): Json {
  const tags = new Set(TAGS.filter((tag) => tag.document === name).map((tag) => tag.name));
  const { webhooks, ...document } = lean;
  const paths = Object.entries(lean['paths'] as Record<string, Json>).flatMap(([path, item]) => {
    const own = Object.entries(item).filter(([, operation]) =>
      (operation as Operation).tags.every((tag) => tags.has(tag)),
    );
    return own.length === 0 ? [] : [[path, Object.fromEntries(own)] as const];
  });
  return withoutUnused({
    ...document,
    info: { ...(lean['info'] as Json), title: DOCUMENTS[name].title },
    tags: (lean['tags'] as { name: string }[]).filter((tag) => tags.has(tag.name)),
    paths: Object.fromEntries(paths),
    ...(tags.has('Webhooks') ? { webhooks } : {}),
  });
}

interface Operation {
  tags: string[];
}

const REFERENCE = /^#\/components\/([^/]+)\/([^/]+)$/;

/** The document with those parts only that something in it refers to; what says who may call stays. */
function withoutUnused(document: Json): Json {
  const components = (document['components'] ?? {}) as Record<string, Json>;
  const used = reachable([document['paths'], document['webhooks']], components);
  const kept = Object.entries(components).map(([kind, parts]) => {
    if (kind === 'securitySchemes') return [kind, parts] as const;
    return [kind, Object.fromEntries(Object.entries(parts).filter(([name]) => used.has(`${kind}/${name}`)))] as const;
  });
  return { ...document, components: Object.fromEntries(kept) };
}

function reachable(from: unknown, components: Record<string, Json>): Set<string> {
  const used = new Set<string>();
  const waiting: unknown[] = [from];
  while (waiting.length > 0) {
    const node = waiting.pop();
    if (typeof node !== 'object' || node === null) continue;
    waiting.push(...Object.values(node));
    const [, kind = '', name = ''] = REFERENCE.exec(String((node as Json)['$ref'])) ?? [];
    const part = `${kind}/${name}`;
    if (kind === '' || used.has(part)) continue;
    used.add(part);
    waiting.push(components[kind]?.[name]);
  }
  return used;
}

const HIDDEN = { config: { access: 'public' }, schema: { hide: true } } as const;

/** The JSON Schema of a rule set, that editors use. */
export async function ruleSetSchemaRoutes(app: FastifyInstance): Promise<void> {
  const schema = JSON.stringify(ruleSetJsonSchema());
  const etag = etagOf(createHash('sha256').update(schema).digest('base64url').slice(0, 16));
  app.get('/rule-set.schema.json', HIDDEN, async (request, reply) => {
    // an editor in a browser may be of another origin; there is nothing secret in it
    reply.headers({ etag, 'cache-control': 'no-cache', 'access-control-allow-origin': '*' });
    if (isNotModified(request.headers['if-none-match'], etag)) return reply.code(304).send();
    return reply.header('content-type', 'application/schema+json; charset=utf-8').send(schema);
  });
}

export type Json = Record<string, unknown>;

/**
 * The whole API document, as the page at `/docs` shows it. Every named schema exists in a request and a response form; those
 * that nothing refers to are left out.
 *
 * Shapes: an OpenAPI 3.1 object, a copy that the caller may keep.
 */
export function apiDocument(app: FastifyInstance): Json {
  const document = structuredClone(app.swagger()) as unknown as Json;
  dropNumberBounds(document);
  return withoutUnused(document);
}

/** The bounds of what JavaScript counts exactly, which every whole number has: they say nothing about ours. */
function dropNumberBounds(node: unknown): void {
  if (typeof node !== 'object' || node === null) return;
  const schema = node as Json;
  if (schema['maximum'] === Number.MAX_SAFE_INTEGER) delete schema['maximum'];
  if (schema['minimum'] === Number.MIN_SAFE_INTEGER) delete schema['minimum'];
  for (const part of Object.values(schema)) dropNumberBounds(part);
}

const DOCS_CSP =
  "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self' data:; " +
  "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

const exampleParams = z.strictObject({ name: z.string().max(100) });
const EXAMPLE = { config: { access: 'public' }, schema: { hide: true, params: exampleParams } } as const;

/** The API document and the page to read it and try it; everything comes from this server. */
export async function documentRoutes(app: FastifyInstance): Promise<void> {
  const built = await readBuiltDocuments();
  let cached = built === undefined ? undefined : withTags(built);
  // Made at the first request: before that not all routes may be registered.
  const getDocuments = () => (cached ??= withTags(renderDocuments(app)));
  for (const name of DOCUMENT_NAMES) {
    app.get(`/${name}.json`, HIDDEN, async (request, reply) => {
      const { text, etag } = getDocuments()[name];
      reply.headers({ etag, 'cache-control': 'no-cache' });
      if (isNotModified(request.headers['if-none-match'], etag)) return reply.code(304).send();
      return reply.header('content-type', 'application/json; charset=utf-8').send(text);
    });
  }
  let examples: Map<string, ServedExample> | undefined;
  app.get('/docs/examples/:name', EXAMPLE, async (request, reply) => {
    examples ??= servedExamples(apiDocument(app));
    const found = examples.get(exampleParams.parse(request.params).name);
    if (found === undefined) throw notFound('example');
    // As text: an example of a picture is not a picture, and nothing here is to be opened as what it shows.
    const type = found.mediaType.endsWith('json') ? found.mediaType : 'text/plain';
    const text = typeof found.value === 'string' && type === 'text/plain' ? found.value : JSON.stringify(found.value);
    reply.headers({ 'content-type': `${type}; charset=utf-8`, 'cache-control': 'no-cache' });
    return reply.serializer((sent) => String(sent)).send(text);
  });
  await app.register(async (docs) => {
    allowEverybody(docs);
    await docs.register(swaggerUi, {
      routePrefix: '/docs',
      staticCSP: DOCS_CSP,
      // No top bar: it holds a logo and a field for other documents.
      uiConfig: { layout: 'BaseLayout', deepLinking: true, tryItOutEnabled: false },
      transformSpecification: () => apiDocument(app),
      transformSpecificationClone: false,
      theme: { title: 'Gridworthy API', favicon: [] },
    });
  });
}

/** The documents as they are served. */
export const renderDocuments = (app: FastifyInstance): ByDocument<string> =>
  mapDocuments(leanDocuments(apiDocument(app)), (document) => JSON.stringify(document));

const withTags = (texts: ByDocument<string>): ByDocument<{ text: string; etag: string }> =>
  mapDocuments(texts, (text) => ({ text, etag: etagOf(shortHash(text)) }));

const shortHash = (content: string | Buffer): string =>
  createHash('sha256').update(content).digest('base64url').slice(0, 16);

// Beside what is compiled; where sources run as they are, nothing lies there.
const BUILT = new URL('../../../openapi/documents.json', import.meta.url);
const COMPILED = new URL('../../../.tsbuildinfo', import.meta.url);

/** What is kept of the documents that were made when the server was compiled. */
export interface BuiltDocuments {
  /** names the state of the compiled code; null where the compiler keeps none */
  of: string | null;
  texts: ByDocument<string>;
}

/** Which state of the compiled code this is: a document of another one is not served. */
export async function compiledState(compiled = COMPILED): Promise<string | null> {
  const info = await readFile(compiled).catch(() => undefined);
  return info === undefined ? null : shortHash(info);
}

/** The documents that the build made of this very code, so that a start need not make them; undefined: they are to be made. */
export async function readBuiltDocuments(from = BUILT, compiled = COMPILED): Promise<ByDocument<string> | undefined> {
  const kept = await readFile(from, 'utf8').catch(() => undefined);
  if (kept === undefined) return undefined;
  const state = await compiledState(compiled);
  const { of, texts } = parseBuilt(kept);
  // A packed build has the document and nothing of the compiler's: nobody compiles there.
  return state === null || state === of ? texts : undefined;
}

/** One that was cut off while it was written is of no state. */
function parseBuilt(kept: string): Partial<BuiltDocuments> {
  try {
    return JSON.parse(kept) as BuiltDocuments;
  } catch {
    return {};
  }
}

/** The plugin cannot say who may call its routes, so this says it for all that are registered below `docs`. */
function allowEverybody(docs: FastifyInstance): void {
  // oxlint-disable-next-line typescript/unbound-method -- it gets its `this` back below
  const { route } = docs;
  docs.route = function publicRoute(this: FastifyInstance, options: RouteOptions) {
    return route.call(this, { ...options, config: { ...options.config, access: 'public' } });
  } as FastifyInstance['route'];
}
