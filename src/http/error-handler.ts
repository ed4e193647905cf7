import type { FastifyError, FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { hasZodFastifySchemaValidationErrors } from 'fastify-type-provider-zod';
import { jsonPointer } from '../domain/json-pointer.ts';
import { findCollision, isDatabaseDown } from '../platform/db-errors.ts';
import { problemText } from './bound-problem.ts';
import { MAX_LISTED } from './cut.ts';
import { type FieldError, nameFaults, ProblemError, problemBody } from './problem.ts';
import { PROBLEMS, type ProblemSlug } from './problems.ts';
import { SECURITY_HEADERS } from './security-headers.ts';

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
