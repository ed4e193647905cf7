import swagger from '@fastify/swagger';
import type { FastifyInstance } from 'fastify';
import { createJsonSchemaTransform, createJsonSchemaTransformObject } from 'fastify-type-provider-zod';
import { ROLES } from '../../domain/actor.ts';
import { PROBLEMS, type ProblemSlug } from '../frame/problems.ts';
import type { OperationInfo, Success } from '../frame/route.ts';
import { DOCUMENT_NAMES, DOCUMENTS, TAGS, webhookDocument } from './documents.ts';
import { nameRuleSetParts, pascalCase } from './rule-set-schema.ts';

/** What a status is called where all its problems go without saying. */
const STATUS_NAMES: Readonly<Record<number, string>> = { 400: 'BadRequest', 503: 'Unavailable' };
/** Problems that go without saying in the name of a response of their status. */
const UNSAID: ReadonlySet<string> = new Set([
  'invalid-request',
  'change-in-the-way',
  'database-unavailable',
  'overloaded',
  'stopping',
]);

/**
 * Says the refusals of an operation: each is a response in `shared`, once for all operations that have the same, and a
 * reference to it in `responses`.
 */
function describeProblems(responses: Record<string, Json>, info: OperationInfo, shared: Record<string, Json>): void {
  for (const [status, response] of Object.entries(responses)) {
    if (Number(status) < 400) continue;
    const slugs = info.problems.filter((slug) => PROBLEMS[slug].status === Number(status));
    const name = responseName(Number(status), slugs);
    shared[name] ??= sharedResponse(response, Number(status), slugs);
    responses[status] = { $ref: `#/components/responses/${name}` };
  }
}

/** `NotFound`, `BadRequestMalformedUrl`: the same problems have the same name, whichever operation comes first. */
function responseName(status: number, slugs: readonly ProblemSlug[]): string {
  const said = slugs.filter((slug) => !UNSAID.has(slug)).map(pascalCase);
  return `${STATUS_NAMES[status] ?? ''}${said.join('')}`;
}

function sharedResponse(response: Json, status: number, slugs: readonly ProblemSlug[]): Json {
  const [slug] = slugs;
  const content = response['content'] as Record<string, Json> | undefined;
  const media = content?.['application/problem+json'];
  if (media !== undefined && slug !== undefined) media['example'] = problemExample(slug);
  return {
    ...response,
    description: slugs.map((one) => `\`${one}\`: ${PROBLEMS[one].title}`).join('. '),
    headers: { ...problemHeaders(status), ...(status < 500 ? RATE_LIMIT_REFERENCES : {}) },
  };
}

function problemHeaders(status: number): Json {
  if (status === 401) return { 'WWW-Authenticate': textHeader('The scheme to use') };
  if (status === 412 || status === 428) return { ETag: textHeader('The current version') };
  if (status === 429 || status === 503) return { 'Retry-After': textHeader('Seconds to wait') };
  return {};
}

function problemExample(slug: ProblemSlug): Json {
  return {
    type: `https://tech.example/problems/${slug}`,
    title: PROBLEMS[slug].title,
    status: PROBLEMS[slug].status,
    detail: PROBLEMS[slug].remedy,
    instance: '/v1/…',
    code: slug,
    requestId: '019ab8f0-0000-7000-8000-000000000000',
  };
}

/** A header of a response that is described in one line. */
const textHeader = (description: string): Json => ({ description, schema: { type: 'string' } });

/** What every answer that was counted says of the limit; the older `X-RateLimit-…` headers beside them say the same. */
const RATE_LIMIT_HEADERS: Readonly<Record<string, Json>> = {
  'RateLimit-Policy': textHeader('The limit as the draft standard says it: `q` requests in `w` seconds'),
  RateLimit: textHeader('What is left of it, `r`, and seconds until they are counted anew, `t`'),
};

/** The same as references, for responses. */
const RATE_LIMIT_REFERENCES: Json = Object.fromEntries(
  Object.keys(RATE_LIMIT_HEADERS).map((name) => [name, { $ref: `#/components/headers/${name}` }]),
);

type Json = Record<string, unknown>;

const DESCRIPTION = `Gridworthy carries pre-event technical inspection: an entrant declares, the server judges by the
organizer's rules, an inspector signs off at the tech line, the gate marshal gets one clear answer.

A passed inspection never guarantees a safe car. The entrant stays responsible; local rules and licensed practice
prevail.

Every answer that is not a success is a problem document (RFC 9457) whose \`type\` is the address of a page with cause
and remedy. Instants are RFC 3339 in UTC, event days are plain dates in the venue's time zone. Unknown body keys are
refused.

A caller may make so many requests a minute (\`X-RateLimit-…\`); beyond, and when the server is busy, the answer is 429 or 503
with \`Retry-After\`. Whoever found a weakness reads \`/.well-known/security.txt\`.

Programs load it in ${DOCUMENT_NAMES.length} documents, which name what operations share once and give examples by their address:
${DOCUMENT_NAMES.map((name) => `[/${name}.json](/${name}.json), ${DOCUMENTS[name].about}`).join('; ')}.
In one, with everything at its place, it is under [/docs](/docs) and [/docs/json](/docs/json).

Guide: [start of an own event](/docs/start), [shops](/docs/shops), [rule sets](/docs/rule-sets), [install](/docs/install), [operate](/docs/operate),
[integrate](/docs/integrate).`;

/** Collects every operation into one OpenAPI 3.1 document, served in parts (`documents.ts`) and committed in `openapi/`. */
export async function installOpenApi(app: FastifyInstance, version: string): Promise<void> {
  nameRuleSetParts();
  const operations = new Map<string, OperationInfo>();
  app.addHook('onRoute', (route) => {
    const { operation } = route.config ?? {};
    const id = route.schema?.operationId;
    // Fastify's own HEAD twin of a GET route carries the same config; it is not an operation of the document.
    if (route.method === 'HEAD') route.schema = { ...route.schema, hide: true };
    else if (operation !== undefined && id !== undefined) operations.set(id, operation);
  });
  const toDocument = createJsonSchemaTransformObject({});
  await app.register(swagger, {
    openapi: {
      openapi: '3.1.0',
      info: {
        title: 'Gridworthy',
        version,
        description: DESCRIPTION,
        contact: { name: 'The organizer who runs this server' },
        license: { name: 'Proprietary', identifier: 'LicenseRef-Proprietary' },
      },
      servers: [{ url: '/', description: 'This server' }],
      tags: TAGS.map(({ name, description: says }) => ({ name, description: says })),
      components: {
        securitySchemes: {
          bearer: { type: 'http', scheme: 'bearer', description: 'An opaque token that the organizer minted.' },
        },
      },
      security: [{ bearer: [] }],
    },
    transform: withBodies(createJsonSchemaTransform({})),
    transformObject: (input) => {
      const document = toDocument(input) as unknown as Json;
      finish(document, operations);
      document['webhooks'] = webhookDocument();
      return document;
    },
  });
}

const DEMANDED = new Map<string, ProblemSlug>([
  ['if-match', 'precondition-required'],
  ['idempotency-key', 'idempotency-key-required'],
]);

type Transform = ReturnType<typeof createJsonSchemaTransform>;

/** The library knows one schema for a body; a body in several media types is translated one by one. */
function withBodies(transform: Transform): Transform {
  return (input) => {
    const { body } = (input.schema ?? {}) as { body?: { content?: Record<string, { schema: unknown }> } };
    if (body?.content === undefined) return transform(input);
    const translate = (schema: unknown) => transform({ ...input, schema: { ...input.schema, body: schema } });
    const media = Object.entries(body.content).map(([type, { schema }]) => [type, translate(schema)] as const);
    const [first] = media;
    const bodies = media.map(([type, { schema }]) => [type, { schema: (schema as Json)['body'] }]);
    const { schema, url } = first?.[1] ?? transform(input);
    return { schema: { ...schema, body: { content: Object.fromEntries(bodies) } }, url };
  };
}

function finish(document: Json, operations: ReadonlyMap<string, OperationInfo>): void {
  const components = document['components'] as Record<'schemas' | 'responses' | 'headers', Record<string, Json>>;
  const { schemas } = components;
  // The same few refusals are possible everywhere: said once, they are half of the document less.
  const refusals: Record<string, Json> = {};
  // A response may gain members later, so it must not promise that it has no others.
  for (const [name, schema] of Object.entries(schemas)) if (!name.endsWith('Input')) allowMore(schema);
  for (const item of Object.values(document['paths'] as Record<string, Record<string, Json>>)) {
    for (const operation of Object.values(item)) {
      const info = operations.get(operation['operationId'] as string);
      if (info !== undefined) finishOperation(operation, info, refusals);
    }
  }
  components.responses = refusals;
  components.headers = { ...RATE_LIMIT_HEADERS };
  forgetNoise(document);
}

function finishOperation(operation: Json, info: OperationInfo, refusals: Record<string, Json>): void {
  if (info.access !== 'public') operation['x-roles'] = info.access === 'any' ? [...ROLES] : [...info.access];
  demandHeaders(operation, info);
  finishBody(operation, info);
  const responses = operation['responses'] as Record<string, Json>;
  for (const [status, success] of Object.entries(info.success)) {
    const response = responses[status];
    if (response === undefined) continue;
    response['description'] = success.description;
    response['headers'] = { ...headerObjects(success.headers ?? {}), ...RATE_LIMIT_REFERENCES };
    finishContent(response, success);
  }
  describeProblems(responses, info, refusals);
}

/** Headers that the server answers for itself when they are missing (428, 400): callers must send them all the same. */
function demandHeaders(operation: Json, { problems }: OperationInfo): void {
  for (const parameter of (operation['parameters'] ?? []) as Json[]) {
    const slug = DEMANDED.get(String(parameter['name']));
    if (slug !== undefined && problems.includes(slug)) parameter['required'] = true;
  }
}

function finishBody(operation: Json, { bodyExample, bodies = {} }: OperationInfo): void {
  const content = (operation['requestBody'] as Json | undefined)?.['content'] as Record<string, Json> | undefined;
  for (const [type, media] of Object.entries(content ?? {})) {
    const example = bodies[type]?.example ?? bodyExample;
    if (example !== undefined) media['example'] = example;
  }
}

function finishContent(response: Json, success: Success): void {
  const content = response['content'] as Record<string, Json> | undefined;
  if (content === undefined) return;
  if (success.schema === undefined) {
    delete response['content'];
    return;
  }
  for (const [type, media] of Object.entries(content)) {
    const { example } = success.alternatives?.[type] ?? success;
    allowMore(media['schema']);
    if (example !== undefined) media['example'] = example;
  }
}

function headerObjects(headers: Readonly<Record<string, string>>): Json {
  return Object.fromEntries(Object.entries(headers).map(([name, description]) => [name, textHeader(description)]));
}

function allowMore(node: unknown): void {
  if (Array.isArray(node)) for (const part of node) allowMore(part);
  else if (typeof node === 'object' && node !== null) {
    const record = node as Json;
    if (record['additionalProperties'] === false) delete record['additionalProperties'];
    for (const [key, part] of Object.entries(record)) if (key !== 'example' && key !== 'enum') allowMore(part);
  }
}

/** Formats that say all that their pattern says. */
const FORMATS: ReadonlySet<unknown> = new Set(['uuid', 'date', 'date-time']);

/**
 * Takes out what helps nobody: the pattern beside a format that says the same, and defaults that are objects or lists,
 * over which generators of clients trip; leaving such a member out means the same.
 */
function forgetNoise(node: unknown): void {
  if (Array.isArray(node)) for (const part of node) forgetNoise(part);
  else if (typeof node === 'object' && node !== null) {
    const record = node as Json;
    if (FORMATS.has(record['format'])) delete record['pattern'];
    if (typeof record['default'] === 'object' && 'type' in record) delete record['default'];
    for (const [key, part] of Object.entries(record)) if (key !== 'example') forgetNoise(part);
  }
}
