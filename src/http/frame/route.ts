import type { FastifyInstance, FastifyReply, FastifyRequest, HTTPMethods } from 'fastify';
import { z } from 'zod';
import type { Actor } from '../../domain/actor.ts';
import { type Access, actorIn } from '../access/auth.ts';
import { type Deprecated, deprecationHeaders } from './headers.ts';
import { inTrace } from '../../platform/telemetry/trace.ts';
import { isKeyed, KEY_REFUSALS, runKeyed, withKey } from './keyed.ts';
import { THREAD_PROBLEMS } from '../body/in-thread.ts';
import { PROBLEMS, type ProblemSlug } from './problems.ts';
import { Problem, ProblemError } from './problem.ts';

/** What an operation answers when it succeeds. */
export interface Success {
  description: string;
  /** absent: no body */
  schema?: z.ZodType;
  /** media type, `application/json` unless told */
  contentType?: string;
  /** the same answer in other media types, by type; the handler chooses by `Accept` */
  alternatives?: Readonly<Record<string, MediaForm>>;
  /** response headers with what they mean */
  headers?: Readonly<Record<string, string>>;
  example?: unknown;
}

/** A body in one media type. */
export interface MediaForm {
  schema: z.ZodType;
  example: unknown;
}

export interface Answer {
  status: number;
  body?: unknown;
  /** the body as JSON text where that is made already; goes out as it is */
  bodyText?: string;
  headers?: Readonly<Record<string, string>>;
}

type Parsed<T extends z.ZodType | undefined> = T extends z.ZodType ? z.output<T> : undefined;
type Schema = z.ZodType | undefined;

export interface RouteSpec<P extends Schema, Q extends Schema, H extends Schema, B extends Schema> {
  method: HTTPMethods;
  /** Fastify path, below the prefix of the plugin it is registered in */
  path: string;
  operationId: string;
  summary: string;
  description?: string;
  tag: string;
  access: Access;
  params?: P;
  query?: Q;
  headers?: H;
  body?: B;
  bodyExample?: unknown;
  /** the body in each media type it may have; `body` is their union then. Nothing else may be parsed for the route */
  bodies?: Readonly<Record<string, MediaForm>>;
  /** media type of the body, `application/json` unless told; its parser is installed around the route */
  bodyType?: string;
  /** largest body in bytes; absent: the limit of the server */
  bodyLimitBytes?: number;
  /** no body at all means `{}` */
  bodyOptional?: boolean;
  success: Readonly<Record<number, Success>>;
  /** problems of this operation; those every operation can answer with are added */
  problems: readonly ProblemSlug[];
  /** finds out who asks in the same statement as its data */
  authenticatesItself?: boolean;
  /** takes a clearance away: it gets through whatever the pressure, see `limit-stops.ts` */
  stopsCars?: boolean;
  /** the answer has a secret that is stored nowhere, so that a repeat with the same key cannot have it */
  shownOnce?: boolean;
  /** out of use: every answer says since when, until when, and what to call instead */
  deprecated?: Deprecated;
  /** its answer is never compressed: it carries a secret, is a stream of messages that must not be gathered, or is always too short */
  neverCompressed?: boolean;
  /** answers with plain JSON text instead of encoding through the schema: for the hot path, whose view is typed */
  plainJson?: boolean;
  handle(input: {
    params: Parsed<P>;
    query: Parsed<Q>;
    headers: Parsed<H>;
    body: Parsed<B>;
    actor: Actor;
    request: FastifyRequest;
    reply: FastifyReply;
  }): Promise<Answer>;
}

/** What the OpenAPI document needs to know beyond the schemas; read by `openapi.ts`. */
export interface OperationInfo {
  bodyExample?: unknown;
  bodies?: Readonly<Record<string, MediaForm>>;
  success: Readonly<Record<number, Success>>;
  problems: readonly ProblemSlug[];
  access: Access;
  bodyOptional: boolean;
}

const NO_QUERY = z.strictObject({});
const EVERYWHERE: readonly ProblemSlug[] = [
  // a query that is too long, wherever
  'invalid-request',
  'too-many-requests',
  'internal-error',
  'database-unavailable',
  'change-in-the-way',
  'overloaded',
  'stopping',
];

/**
 * Registers one operation: schemas, access and documentation from one place. The handler gets parsed input and
 * returns status, body and headers; refusals are thrown as `ProblemError`.
 */
export function addRoute<
  P extends Schema = undefined,
  Q extends Schema = undefined,
  H extends Schema = undefined,
  B extends Schema = undefined,
>(app: FastifyInstance, spec: RouteSpec<P, Q, H, B>): void {
  const keyed = isKeyed(spec);
  const headers = keyed ? withKey(spec.headers) : spec.headers;
  const info: OperationInfo = {
    bodyExample: spec.bodyExample,
    ...(spec.bodies === undefined ? {} : { bodies: spec.bodies }),
    success: spec.success,
    problems: allProblems(spec),
    access: spec.access,
    bodyOptional: spec.bodyOptional === true,
  };
  app.route({
    method: spec.method,
    url: spec.path,
    ...bodyHook(spec),
    ...(spec.bodyLimitBytes === undefined ? {} : { bodyLimit: spec.bodyLimitBytes }),
    // A fault in the input is told only to whoever is known: see `installAuth`.
    ...(spec.authenticatesItself === true ? { attachValidation: true } : {}),
    config: {
      access: spec.access,
      authenticatesItself: spec.authenticatesItself === true,
      stopsCars: spec.stopsCars === true,
      operation: info,
    },
    schema: operationSchema(spec, info, headers),
    ...(spec.neverCompressed === true ? { compress: false } : {}),
    ...(spec.plainJson === true ? { serializerCompiler: () => JSON.stringify } : {}),
    ...(spec.deprecated === undefined ? {} : { onRequest: saying(deprecationHeaders(spec.deprecated)) }),
    handler: (request, reply) => answer(spec, request, reply, keyed),
  });
}

function operationSchema(
  spec: RouteSpec<Schema, Schema, Schema, Schema>,
  info: OperationInfo,
  headers: Schema,
): Record<string, unknown> {
  return {
    operationId: spec.operationId,
    summary: spec.summary,
    tags: [spec.tag],
    ...(spec.description === undefined ? {} : { description: spec.description }),
    ...(spec.access === 'public' ? { security: [] } : {}),
    ...(spec.params === undefined ? {} : { params: spec.params }),
    ...(takesQuery(spec) ? { querystring: spec.query ?? NO_QUERY } : {}),
    ...(headers === undefined ? {} : { headers }),
    ...(spec.deprecated === undefined ? {} : { deprecated: true }),
    ...bodySchema(spec),
    response: responseSchemas(info),
  };
}

declare module 'fastify' {
  interface FastifyContextConfig {
    operation?: OperationInfo;
  }
}

type BodySpec = Pick<RouteSpec<Schema, Schema, Schema, Schema>, 'body' | 'bodies' | 'bodyType' | 'bodyOptional'>;

function bodyHook(spec: BodySpec): { preValidation?: (request: FastifyRequest) => Promise<void> } {
  if (spec.bodies !== undefined) return { preValidation: bodyHasForm };
  return spec.bodyOptional === true ? { preValidation: emptyBodyIsObject } : {};
}

function bodySchema({ body, bodies, bodyType }: BodySpec): { body?: unknown; consumes?: string[] } {
  if (body === undefined) return {};
  return {
    body: bodies === undefined ? body : { content: bodies },
    ...(bodyType === undefined ? {} : { consumes: [bodyType] }),
  };
}

async function emptyBodyIsObject(request: FastifyRequest): Promise<void> {
  // `null` was sent, and is refused like any other value that is no object.
  if (request.body === undefined) request.body = {};
}

/** The framework does not validate a body in a media type that the route does not name, nor one that is not there. */
async function bodyHasForm(request: FastifyRequest): Promise<void> {
  const forms = Object.keys(request.routeOptions.config.operation?.bodies ?? {});
  if (request.body === undefined) {
    const errors = [{ pointer: '', code: 'invalid-type', detail: 'A body is needed.', in: 'body' }];
    throw new ProblemError('invalid-request', 'In the body: a body is needed.', { errors });
  }
  if (request.mediaType !== undefined && forms.includes(request.mediaType)) return;
  throw new ProblemError('unsupported-media-type', `Send ${forms.join(' or ')}.`);
}

async function answer<P extends Schema, Q extends Schema, H extends Schema, B extends Schema>(
  spec: RouteSpec<P, Q, H, B>,
  request: FastifyRequest,
  reply: FastifyReply,
  keyed: boolean,
): Promise<FastifyReply> {
  const work = () => handled(spec, request, reply);
  const run = () => (keyed ? runKeyed(request, { shownOnce: spec.shownOnce === true }, work) : work());
  const result = await (request.trace === undefined ? run() : inTrace(request.trace, run));
  reply.code(result.status);
  if (result.headers !== undefined) reply.headers(result.headers);
  if (!reply.hasHeader('cache-control')) reply.header('cache-control', 'no-store');
  if (result.bodyText === undefined) return reply.send(result.body);
  return reply.type('application/json; charset=utf-8').send(result.bodyText);
}

/** Headers that go out with every answer of a route, refusals included. */
function saying(headers: Record<string, string>) {
  return async (_request: FastifyRequest, reply: FastifyReply) => void reply.headers(headers);
}

function handled<P extends Schema, Q extends Schema, H extends Schema, B extends Schema>(
  spec: RouteSpec<P, Q, H, B>,
  request: FastifyRequest,
  reply: FastifyReply,
): Promise<Answer> {
  return spec.handle({
    // The validator compiler has parsed these with the schemas of the same spec.
    params: request.params as Parsed<P>,
    query: request.query as Parsed<Q>,
    headers: request.headers as Parsed<H>,
    body: request.body as Parsed<B>,
    // A public or self-authenticating handler does not read it.
    actor:
      spec.access === 'public' || spec.authenticatesItself === true ? (null as unknown as Actor) : actorIn(request),
    request,
    reply,
  });
}

/** A misspelt filter must not look like an answer to it; only probes of machines may add what they like. */
function takesQuery({ query, access }: Pick<RouteSpec<Schema, Schema, Schema, Schema>, 'query' | 'access'>): boolean {
  return query !== undefined || access !== 'public';
}

function allProblems(spec: RouteSpec<Schema, Schema, Schema, Schema>): ProblemSlug[] {
  return [
    ...new Set<ProblemSlug>([
      ...(spec.params === undefined ? [] : (['malformed-url'] as const)),
      // A body that nobody asked for is read as well, and may be refused.
      ...(spec.method === 'GET' ? [] : (['body-too-large', 'unsupported-media-type', ...THREAD_PROBLEMS] as const)),
      ...(spec.body === undefined || spec.bodyType !== undefined ? [] : (['malformed-json'] as const)),
      ...(spec.access === 'public' ? [] : (['unauthenticated'] as const)),
      ...(Array.isArray(spec.access) ? (['forbidden'] as const) : []),
      ...spec.problems,
      ...(isKeyed(spec) ? KEY_REFUSALS : []),
      ...(isKeyed(spec) && spec.shownOnce === true ? (['shown-once'] as const) : []),
      ...EVERYWHERE,
    ]),
  ];
}

function responseSchemas(info: OperationInfo): Record<string, unknown> {
  const responses: Record<string, unknown> = {};
  for (const [status, success] of Object.entries(info.success)) {
    const schema = success.schema ?? z.undefined().describe('No body');
    const { contentType = 'application/json', alternatives } = success;
    responses[status] =
      success.contentType === undefined && alternatives === undefined
        ? schema
        : { description: success.description, content: { [contentType]: { schema }, ...alternatives } };
  }
  for (const status of new Set(info.problems.map((slug) => PROBLEMS[slug].status))) {
    responses[status] = {
      description: PROBLEMS[info.problems.find((slug) => PROBLEMS[slug].status === status) ?? 'internal-error'].title,
      content: { 'application/problem+json': { schema: Problem } },
    };
  }
  return responses;
}
