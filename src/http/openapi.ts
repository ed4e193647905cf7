import swagger from '@fastify/swagger';
import type { FastifyInstance } from 'fastify';
import { createJsonSchemaTransform, createJsonSchemaTransformObject } from 'fastify-type-provider-zod';
import { ROLES } from '../domain/actor.ts';
import { PROBLEMS } from './problems.ts';
import type { OperationInfo, Success } from './route.ts';
import { webhookDocument } from './webhook-document.ts';

type Json = Record<string, unknown>;

const TAGS: readonly { name: string; description: string }[] = [
  { name: 'Tokens', description: 'Who may call: mint, list, revoke.' },
  { name: 'Catalogue', description: 'Everything an inspection can ask.' },
  { name: 'Venues', description: 'Circuits and what rules need to know of them.' },
  { name: 'Events', description: 'Event days, declaration window, run groups.' },
  { name: 'Rule sets', description: "The organizer's rules: draft, check, publish." },
  { name: 'Entries', description: 'Car numbers in run groups, their people and vehicles.' },
  { name: 'Declaration', description: 'The form, the draft, the submitted revisions and their verdicts.' },
  { name: 'Photos', description: 'Evidence: what somebody photographed of a car.' },
  { name: 'Line', description: 'The tech line: tickets, claims, sign-off.' },
  { name: 'Clearance', description: 'Holds, lifts, conditions, concessions, withdrawal, history.' },
  { name: 'Personal data', description: 'What is on record about the people of an entry, and its erasure.' },
  { name: 'Gate', description: 'Car number in, one answer out.' },
  { name: 'Webhooks', description: 'Other programs are told what happens, signed and until they have it.' },
  { name: 'Calculations', description: "The trade's computations on their own, each with its working and sources." },
  { name: 'Service', description: 'Health and documentation.' },
];

const DESCRIPTION = `Gridworthy carries pre-event technical inspection: an entrant declares, the server judges by the
organizer's rules, an inspector signs off at the tech line, the gate marshal gets one clear answer.

A passed inspection never guarantees a safe car. The entrant stays responsible; local rules and licensed practice
prevail.

Every answer that is not a success is a problem document (RFC 9457) whose \`type\` is the address of a page with cause
and remedy. Instants are RFC 3339 in UTC, event days are plain dates in the venue's time zone. Unknown body keys are
refused.

Guide: [start of an own event](/docs/start), [rule sets](/docs/rule-sets), [operate](/docs/operate),
[integrate](/docs/integrate).`;

/** Collects every operation into one OpenAPI 3.1 document, served at `/openapi.json` and committed in `openapi/`. */
export async function installOpenApi(app: FastifyInstance, version: string): Promise<void> {
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
        license: { name: 'Proprietary', identifier: 'LicenseRef-Proprietary' },
      },
      servers: [{ url: '/', description: 'This server' }],
      tags: [...TAGS],
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
  const components = document['components'] as { schemas?: Record<string, Json>; responses?: Record<string, Json> };
  const { schemas = {} } = components;
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
}

function finishOperation(operation: Json, info: OperationInfo, refusals: Record<string, Json>): void {
  if (info.access !== 'public') operation['x-roles'] = info.access === 'any' ? [...ROLES] : [...info.access];
  finishBody(operation, info);
  const responses = operation['responses'] as Record<string, Json>;
  for (const [status, success] of Object.entries(info.success)) {
    const response = responses[status];
    if (response === undefined) continue;
    response['description'] = success.description;
    if (success.headers !== undefined) response['headers'] = headerObjects(success.headers);
    finishContent(response, success);
  }
  describeProblems(responses, info, refusals);
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

function describeProblems(responses: Record<string, Json>, info: OperationInfo, refusals: Record<string, Json>): void {
  for (const [status, response] of Object.entries(responses)) {
    if (Number(status) < 400) continue;
    const slugs = info.problems.filter((slug) => PROBLEMS[slug].status === Number(status));
    response['description'] = slugs.map((slug) => `\`${slug}\`: ${PROBLEMS[slug].title}`).join('. ');
    const headers = problemHeaders(Number(status));
    if (headers !== undefined) response['headers'] = headerObjects(headers);
    const media = (response['content'] as Record<string, Json> | undefined)?.['application/problem+json'];
    const slug = slugs[0];
    if (media !== undefined && slug !== undefined) media['example'] = problemExample(slug);
    const name = `${status}.${slugs.join('.')}`;
    refusals[name] = response;
    responses[status] = { $ref: `#/components/responses/${name}` };
  }
}

function problemHeaders(status: number): Record<string, string> | undefined {
  if (status === 401) return { 'WWW-Authenticate': 'The scheme to use' };
  if (status === 412 || status === 428) return { ETag: 'The current version' };
  if (status === 429 || status === 503) return { 'Retry-After': 'Seconds to wait' };
  return undefined;
}

function problemExample(slug: keyof typeof PROBLEMS): Json {
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

function headerObjects(headers: Readonly<Record<string, string>>): Json {
  return Object.fromEntries(
    Object.entries(headers).map(([name, description]) => [name, { description, schema: { type: 'string' } }]),
  );
}

function allowMore(node: unknown): void {
  if (Array.isArray(node)) for (const part of node) allowMore(part);
  else if (typeof node === 'object' && node !== null) {
    const record = node as Json;
    if (record['additionalProperties'] === false) delete record['additionalProperties'];
    for (const [key, part] of Object.entries(record)) if (key !== 'example' && key !== 'enum') allowMore(part);
  }
}
