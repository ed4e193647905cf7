import swaggerUi from '@fastify/swagger-ui';
import type { FastifyInstance, RouteOptions } from 'fastify';
import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { z } from 'zod';
import { etagOf, isNotModified } from '../../http/frame/etag.ts';
import { notFound } from '../../http/frame/problem.ts';
import { ruleSetJsonSchema } from '../../http/openapi/rule-set-schema.ts';
import { type ServedExample, servedExamples, leanDocument } from './lean-document.ts';

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

const REF_PREFIX = '#/components/schemas/';

/**
 * The API document as it is served and committed. Every named schema exists in a request and a response form; those
 * that nothing refers to are left out.
 *
 * Shapes: an OpenAPI 3.1 object, a copy that the caller may keep.
 */
export function apiDocument(app: FastifyInstance): Json {
  const document = structuredClone(app.swagger()) as unknown as Json;
  const components = (document['components'] ?? {}) as Json;
  const schemas = (components['schemas'] ?? {}) as Json;
  const used = reachable([document['paths'], components['responses'], document['webhooks']], schemas);
  components['schemas'] = Object.fromEntries(Object.entries(schemas).filter(([name]) => used.has(name)));
  dropNumberBounds(document);
  return document;
}

/** The bounds of what JavaScript counts exactly, which every whole number has: they say nothing about ours. */
function dropNumberBounds(node: unknown): void {
  if (typeof node !== 'object' || node === null) return;
  const schema = node as Json;
  if (schema['maximum'] === Number.MAX_SAFE_INTEGER) delete schema['maximum'];
  if (schema['minimum'] === Number.MIN_SAFE_INTEGER) delete schema['minimum'];
  for (const part of Object.values(schema)) dropNumberBounds(part);
}

function reachable(from: unknown, schemas: Json): Set<string> {
  const used = new Set<string>();
  const waiting: unknown[] = [from];
  while (waiting.length > 0) {
    const node = waiting.pop();
    if (typeof node !== 'object' || node === null) continue;
    waiting.push(...Object.values(node));
    const ref = (node as Json)['$ref'];
    if (typeof ref !== 'string' || !ref.startsWith(REF_PREFIX)) continue;
    const name = ref.slice(REF_PREFIX.length);
    if (!used.has(name)) waiting.push(schemas[name]);
    used.add(name);
  }
  return used;
}

const DOCS_CSP =
  "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self' data:; " +
  "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

const exampleParams = z.strictObject({ name: z.string().max(100) });
const EXAMPLE = { config: { access: 'public' }, schema: { hide: true, params: exampleParams } } as const;

/** The API document and the page to read it and try it; everything comes from this server. */
export async function documentRoutes(app: FastifyInstance): Promise<void> {
  const built = await readBuiltDocument();
  let cached = built === undefined ? undefined : withTag(built);
  // Made at the first request: before that not all routes may be registered.
  const getDocument = () => (cached ??= withTag(renderDocument(app)));
  app.get('/openapi.json', { config: { access: 'public' }, schema: { hide: true } }, async (request, reply) => {
    const { text, etag } = getDocument();
    reply.headers({ etag, 'cache-control': 'no-cache' });
    if (isNotModified(request.headers['if-none-match'], etag)) return reply.code(304).send();
    return reply.header('content-type', 'application/json; charset=utf-8').send(text);
  });
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

/** The document as it is served. */
export const renderDocument = (app: FastifyInstance): string => JSON.stringify(leanDocument(apiDocument(app)));

const withTag = (text: string): { text: string; etag: string } => ({ text, etag: etagOf(shortHash(text)) });

const shortHash = (content: string | Buffer): string =>
  createHash('sha256').update(content).digest('base64url').slice(0, 16);

// Beside what is compiled; where sources run as they are, nothing lies there.
const BUILT = new URL('../../../openapi/document.json', import.meta.url);
const COMPILED = new URL('../../../.tsbuildinfo', import.meta.url);

/** What is kept of a document that was made when the server was compiled. */
export interface BuiltDocument {
  /** names the state of the compiled code; null where the compiler keeps none */
  of: string | null;
  text: string;
}

/** Which state of the compiled code this is: a document of another one is not served. */
export async function compiledState(compiled = COMPILED): Promise<string | null> {
  const info = await readFile(compiled).catch(() => undefined);
  return info === undefined ? null : shortHash(info);
}

/** The document that the build made of this very code, so that a start need not make it; undefined: it is to be made. */
export async function readBuiltDocument(from = BUILT, compiled = COMPILED): Promise<string | undefined> {
  const kept = await readFile(from, 'utf8').catch(() => undefined);
  if (kept === undefined) return undefined;
  const state = await compiledState(compiled);
  const { of, text } = parseBuilt(kept);
  // A packed build has the document and nothing of the compiler's: nobody compiles there.
  return state === null || state === of ? text : undefined;
}

/** One that was cut off while it was written is of no state. */
function parseBuilt(kept: string): Partial<BuiltDocument> {
  try {
    return JSON.parse(kept) as BuiltDocument;
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
