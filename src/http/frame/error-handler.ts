import type { FastifyError, FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { hasZodFastifySchemaValidationErrors } from 'fastify-type-provider-zod';
import type { Socket } from 'node:net';
import { v7 as uuidV7 } from 'uuid';
import { jsonPointer } from '../../domain/json-pointer.ts';
import { findCollision, isDatabaseDown } from '../../platform/database/db.ts';
import { cutText, listFaults, MAX_LISTED } from './common-schemas.ts';
import { type FieldError, nameFaults, problemBody, ProblemError } from './problem.ts';
import { PROBLEMS, type ProblemSlug } from './problems.ts';
import { SECURITY_HEADERS } from './headers.ts';

/** Largest body of a refusal in bytes, whatever was sent. */
export const MAX_PROBLEM_BYTES = 200_000;
const MAX_TEXT = 1000;

type Json = Readonly<Record<string, unknown>>;

/**
 * The members of a problem document as text that is never larger than it may be: of very many faults the first are
 * listed and `moreErrors` counts the others, long texts of the caller's own are cut, and of other lists that are still
 * too long the beginning is kept and `more` counts the rest.
 */
export function problemText(body: Json): string {
  const short = shorten(body);
  let text = JSON.stringify(short);
  let lists = Object.entries(short).filter((entry): entry is [string, unknown[]] => Array.isArray(entry[1]));
  while (Buffer.byteLength(text) > MAX_PROBLEM_BYTES && lists.some(([, list]) => list.length > 0)) {
    const longest = Math.max(...lists.map(([, list]) => list.length));
    lists = lists.map(([key, list]) => [key, list.length === longest ? list.slice(0, longest >> 1) : list]);
    text = JSON.stringify({ ...short, ...Object.fromEntries(lists), ...left(short, lists) });
  }
  return text;
}

function shorten({ errors, ...body }: Json): Json {
  const texts = Object.entries(body).map(([key, value]) => [
    key,
    typeof value === 'string' ? cutText(value, MAX_TEXT) : value,
  ]);
  const rest = Object.fromEntries(texts) as Json;
  if (!Array.isArray(errors)) return rest;
  const { listed, more } = listFaults(errors);
  const counted = more + (typeof body['moreErrors'] === 'number' ? body['moreErrors'] : 0);
  return { ...rest, errors: listed, ...(counted > 0 && { moreErrors: counted }) };
}

/** How many of each list were left out. Of faults the count stands where it always does. */
function left(body: Json, lists: readonly [string, unknown[]][]): Json {
  const counts = lists.flatMap(([key, list]) => {
    const all = body[key];
    const gone = Array.isArray(all) ? all.length - list.length : 0;
    return gone > 0 ? [[key, gone] as const] : [];
  });
  const others = counts.filter(([key]) => key !== 'errors');
  const errors = counts.find(([key]) => key === 'errors')?.[1] ?? 0;
  const counted = errors + (typeof body['moreErrors'] === 'number' ? body['moreErrors'] : 0);
  return {
    ...(others.length > 0 && { more: Object.fromEntries(others) }),
    ...(counted > 0 && { moreErrors: counted }),
  };
}

const PROBLEM_JSON = 'application/problem+json; charset=utf-8';

const FRAMEWORK_ERRORS: Readonly<Record<string, ProblemSlug>> = {
  FST_ERR_CTP_INVALID_MEDIA_TYPE: 'unsupported-media-type',
  FST_ERR_CTP_BODY_TOO_LARGE: 'body-too-large',
  FST_ERR_CTP_INVALID_JSON_BODY: 'malformed-json',
  FST_ERR_CTP_EMPTY_JSON_BODY: 'malformed-json',
  FST_ERR_CTP_INVALID_CONTENT_LENGTH: 'malformed-json',
  FST_ERR_BAD_URL: 'malformed-url',
  FST_ERR_ASYNC_CONSTRAINT: 'malformed-url',
  FST_ERR_MAX_PARAM_LENGTH: 'malformed-url',
};

const IN_THE_WAY = {
  locked: 'Another change to the same thing took too long. Nothing of this request was kept; send it again.',
  collided: 'Another change to the same thing came in between. Nothing of this request was kept; send it again.',
} as const;

const PARTS = { body: 'body', params: 'path', querystring: 'query', headers: 'header' } as const;

/** The one error handler: whatever was thrown becomes a problem document, and only faults of ours are logged as errors. */
export function installErrorHandler(app: FastifyInstance): void {
  app.setErrorHandler((error: FastifyError, request, reply) => answer(reply, request, toProblem(error, request)));
}

function answer(reply: FastifyReply, request: FastifyRequest, problem: ProblemError): FastifyReply {
  // Here, because also routes that look their caller up themselves end here.
  const refusal = problem.slug === 'unauthenticated' ? request.server.failedAuth.refusalFor(request.ip) : undefined;
  return sendProblem(reply, request, refusal ?? problem);
}

/** Answers with a problem. Sent as text, so that no response schema can drop a member of it. */
export function sendProblem(reply: FastifyReply, request: FastifyRequest, problem: ProblemError): FastifyReply {
  const context = { base: baseAddress(request), instance: instanceOf(request, problem), requestId: request.id };
  // Whoever reads only `admit` at the gate must read a no.
  const gate = request.url.includes('/gate') ? { admit: false } : {};
  const body = problemBody(problem.slug, problem.message, context, { ...problem.extensions, ...gate });
  return (
    reply
      .code(PROBLEMS[problem.slug].status)
      // An address that cannot be read is refused before the hooks that set these.
      .headers({ ...SECURITY_HEADERS, 'x-request-id': request.id, ...problem.headers })
      .header('content-type', PROBLEM_JSON)
      .header('cache-control', 'no-store')
      .send(problemText(body))
  );
}

/** Of whoever has shown no valid token, nothing is repeated but the path: a key may stand in the query. */
function instanceOf(request: FastifyRequest, { slug }: ProblemError): string {
  const known = slug !== 'unauthenticated' && (request.actor ?? null) !== null;
  return (known ? request.url : (request.url.split('?', 1)[0] ?? '')).slice(0, 500);
}

/** The configured public address; empty without one, for references that are relative: a `Host` can be anybody's word. */
export function baseAddress(request: FastifyRequest): string {
  return request.server.publicUrl ?? '';
}

declare module 'fastify' {
  interface FastifyInstance {
    publicUrl: string | undefined;
  }
}

function toProblem(error: FastifyError, request: FastifyRequest): ProblemError {
  if (error instanceof ProblemError) return error;
  if (hasZodFastifySchemaValidationErrors(error)) return invalidRequest(error);
  const known = frameworkProblem(error);
  if (known !== undefined) return known;
  const collision = findCollision(error);
  if (collision !== undefined) {
    request.log.warn({ error, collision }, 'another change was in the way');
    return new ProblemError('change-in-the-way', IN_THE_WAY[collision], {}, { 'retry-after': '1' });
  }
  if (isDatabaseDown(error)) {
    request.log.error({ error }, 'database unavailable');
    return new ProblemError('database-unavailable', 'The database does not answer.', {}, { 'retry-after': '5' });
  }
  request.log.error({ error }, 'request failed');
  return new ProblemError('internal-error', 'The server failed. Nothing of this request was kept.');
}

function frameworkProblem(error: FastifyError): ProblemError | undefined {
  const slug = FRAMEWORK_ERRORS[error.code];
  if (slug !== undefined) return new ProblemError(slug, detailOf(slug, error));
  if (error.statusCode === 429) {
    return new ProblemError('too-many-requests', error.message);
  }
  if (error.statusCode === 413) return new ProblemError('body-too-large', error.message);
  // A live stream that is ended by force before its first word: at a stop, or its caller is gone.
  if (error.code === 'ERR_STREAM_PREMATURE_CLOSE') {
    return new ProblemError('stopping', 'This stream was ended before it began.', {}, { 'retry-after': '5' });
  }
  // A client that hangs up or sends a broken stream: nobody of ours must act.
  if (error.statusCode === 400) return new ProblemError('malformed-json', error.message);
  return undefined;
}

function detailOf(slug: ProblemSlug, error: FastifyError): string {
  if (slug === 'malformed-json') return `The body could not be read: ${error.message}.`.replace('..', '.');
  if (slug === 'malformed-url')
    return 'The address holds a percent escape that cannot be decoded, or a part that is too long.';
  return error.message;
}

type ZodFault = { keyword: string; instancePath: string; message?: string; params?: Record<string, unknown> };

function invalidRequest(error: FastifyError): ProblemError {
  const part = PARTS[(error.validationContext ?? 'body') as keyof typeof PARTS] ?? 'body';
  const faults = (error.validation ?? []) as unknown as ZodFault[];
  const errors: FieldError[] = [];
  let more = 0;
  // Somebody may send a hundred thousand faults in one body: only those that are told are made.
  for (const fault of faults) {
    const unknown = unknownKeysOf(fault);
    const listed = fieldErrors(fault, unknown?.slice(0, MAX_LISTED - errors.length), part);
    errors.push(...listed.slice(0, MAX_LISTED - errors.length));
    more += unknown?.length ?? 1;
  }
  more -= errors.length;
  const counted = more > 0 ? { moreErrors: more } : {};
  return new ProblemError('invalid-request', `In the ${part}: ${nameFaults(errors, more)}`, { errors, ...counted });
}

function unknownKeysOf({ keyword, params }: ZodFault): unknown[] | undefined {
  const keys = keyword === 'unrecognized_keys' ? params?.['keys'] : undefined;
  return Array.isArray(keys) ? keys : undefined;
}

function fieldErrors(
  fault: ZodFault,
  unknownKeys: unknown[] | undefined,
  part: NonNullable<FieldError['in']>,
): FieldError[] {
  const base = fault.instancePath === '/' ? '' : fault.instancePath;
  if (unknownKeys !== undefined) {
    return unknownKeys.map((key) => ({
      pointer: base + jsonPointer([String(key)]),
      code: 'unknown-key',
      detail: 'This key is not known here.',
      in: part,
    }));
  }
  const code = fault.keyword.replaceAll('_', '-');
  return [{ pointer: base, code, detail: fault.message ?? 'This value is not valid.', in: part }];
}

/** Answers bytes that are not an HTTP request, or one with too large headers; there is no request object yet. */
export function answerBrokenRequest(error: NodeJS.ErrnoException, socket: Socket): void {
  if (error.code === 'ECONNRESET' || !socket.writable) {
    socket.destroy();
    return;
  }
  const slug: ProblemSlug = error.code === 'HPE_HEADER_OVERFLOW' ? 'headers-too-large' : 'invalid-request';
  const context = { base: '', instance: '', requestId: uuidV7() };
  const body = JSON.stringify(problemBody(slug, 'This is not a request that can be read.', context));
  const { status, title } = PROBLEMS[slug];
  socket.end(
    [
      `HTTP/1.1 ${status} ${title}`,
      'content-type: application/problem+json; charset=utf-8',
      `content-length: ${Buffer.byteLength(body)}`,
      'connection: close',
      'cache-control: no-store',
      `x-request-id: ${context.requestId}`,
      ...Object.entries(SECURITY_HEADERS).map(([name, value]) => `${name}: ${value}`),
      '',
      body,
    ].join('\r\n'),
  );
}

interface KnownPath {
  pattern: RegExp;
  methods: Set<string>;
}

/** Answers unknown addresses with 404, and known addresses asked with another method with 405 and `Allow`. */
export function installNotFound(app: FastifyInstance): void {
  const paths = new Map<string, KnownPath>();
  app.addHook('onRoute', (route) => {
    const known = paths.get(route.url) ?? { pattern: patternOf(route.url), methods: new Set<string>() };
    for (const method of [route.method].flat()) known.methods.add(method);
    paths.set(route.url, known);
  });
  // The limiter installs itself on routes only.
  app.setNotFoundHandler({ preHandler: app.rateLimit() }, (request, reply) => {
    const allowed = allowedMethods(paths, request);
    // A wildcard route may know the address and still have nothing there.
    if (allowed.length === 0 || allowed.includes(request.method)) {
      return sendProblem(reply, request, new ProblemError('not-found', 'No operation has this address.'));
    }
    const allow = allowed.join(', ');
    const detail = `${request.method} is not possible here; these methods are: ${allow}.`;
    return sendProblem(reply, request, new ProblemError('method-not-allowed', detail, {}, { allow }));
  });
}

function allowedMethods(paths: ReadonlyMap<string, KnownPath>, request: FastifyRequest): string[] {
  const path = request.url.split('?', 1)[0] ?? '';
  const methods = new Set<string>();
  for (const known of paths.values()) {
    if (known.pattern.test(path)) for (const method of known.methods) methods.add(method);
  }
  return [...methods].sort();
}

function patternOf(url: string): RegExp {
  const escaped = url.replace(/[.*+?^${}()|[\]\\]/g, (char) => (char === '*' ? '.*' : `\\${char}`));
  return new RegExp(`^${escaped.replace(/:[A-Za-z]+/g, '[^/]+')}/?$`);
}
