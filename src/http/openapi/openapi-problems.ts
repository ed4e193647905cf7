import { pascalCase } from './rule-set-schema.ts';
import type { OperationInfo } from '../frame/route.ts';
import { PROBLEMS, type ProblemSlug } from '../frame/problems.ts';

type Json = Record<string, unknown>;

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
export function describeProblems(
  responses: Record<string, Json>,
  info: OperationInfo,
  shared: Record<string, Json>,
): void {
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
export const textHeader = (description: string): Json => ({ description, schema: { type: 'string' } });

/** What every answer that was counted says of the limit; the older `X-RateLimit-…` headers beside them say the same. */
export const RATE_LIMIT_HEADERS: Readonly<Record<string, Json>> = {
  'RateLimit-Policy': textHeader('The limit as the draft standard says it: `q` requests in `w` seconds'),
  RateLimit: textHeader('What is left of it, `r`, and seconds until they are counted anew, `t`'),
};

/** The same as references, for responses. */
export const RATE_LIMIT_REFERENCES: Json = Object.fromEntries(
  Object.keys(RATE_LIMIT_HEADERS).map((name) => [name, { $ref: `#/components/headers/${name}` }]),
);
