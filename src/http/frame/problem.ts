import { z } from 'zod';
import { cutText } from './common-schemas.ts';
import { PROBLEMS, type ProblemSlug } from './problems.ts';

/** Of a pointer or a detail within a sentence. */
const MAX_NAMED = 200;

/** One fault in what the caller sent. */
export interface FieldError {
  /** JSON Pointer (RFC 6901) into the part of the request that `in` names */
  pointer: string;
  code: string;
  detail: string;
  in?: 'body' | 'path' | 'query' | 'header';
}

/** The body of every answer that is not 2xx or 304 (RFC 9457). */
export const Problem = z
  .looseObject({
    type: z.string().describe('Address of a page that says cause and remedy'),
    title: z.string().describe('What kind of problem this is; fixed text'),
    status: z.int().min(400).max(599).describe('The HTTP status'),
    detail: z.string().describe('What to change in this request'),
    instance: z.string().describe('The address that was asked'),
    code: z.string().describe('The last part of `type`, for programs'),
    requestId: z.string().describe('Names this request in the logs'),
    errors: z
      .array(
        z.looseObject({
          pointer: z.string().describe('JSON Pointer to the value'),
          code: z.string().describe('Kind of fault, for programs'),
          detail: z.string().describe('What is wrong with it'),
          in: z.enum(['body', 'path', 'query', 'header']).optional().describe('Part of the request'),
        }),
      )
      .optional()
      .describe('Every fault found, at most 100'),
    moreErrors: z.int().optional().describe('Faults that were found and are not listed; absent: all are'),
    currentState: z.string().optional().describe('The state that refused the operation'),
    wayOut: z
      .looseObject({
        words: z.string().describe('For a person'),
        operation: z.string().describe('Method and path of the operation that helps'),
        roles: z.array(z.string()).describe('Who may call it'),
      })
      .optional()
      .describe('What can be done instead'),
  })
  .meta({ id: 'Problem' });

/** A refusal that the caller can read. Thrown by use cases, answered by the one error handler. */
export class ProblemError extends Error {
  readonly slug: ProblemSlug;
  readonly extensions: Readonly<Record<string, unknown>>;
  readonly headers: Readonly<Record<string, string>>;

  constructor(
    slug: ProblemSlug,
    detail: string,
    extensions: Readonly<Record<string, unknown>> = {},
    headers: Readonly<Record<string, string>> = {},
  ) {
    super(detail);
    this.name = 'ProblemError';
    this.slug = slug;
    this.extensions = extensions;
    this.headers = headers;
  }
}

/** The first three faults in one sentence: "/a: too long; /b: unknown." The whole list goes into `errors`. */
export function nameFaults(faults: readonly { pointer: string; detail: string }[], notListed = 0): string {
  const named = faults
    .slice(0, 3)
    .map(
      ({ pointer, detail }) =>
        `${cutText(pointer || '/', MAX_NAMED)}: ${cutText(detail.replace(/\.$/, ''), MAX_NAMED)}`,
    );
  const others = faults.length - named.length + notListed;
  const more = others > 0 ? `; and ${others} more` : '';
  return `${named.join('; ')}${more}.`;
}

/** The refusal of what is well formed and cannot be taken, with every place and its fault in the words as well. */
export function notAcceptable(errors: readonly FieldError[]): ProblemError {
  const detail = errors.map((fault) => `${fault.pointer}: ${fault.detail}`).join(' ');
  return new ProblemError('not-acceptable', detail, { errors });
}

/** The answer to an object that does not exist or is not the caller's to see: the two must look the same. */
export function notFound(what: string): ProblemError {
  return new ProblemError('not-found', `There is no such ${what}, or it is not yours to see.`);
}

/**
 * Builds the problem document. `base` is the address of this server, so that `type` can be followed.
 *
 * @param context `instance` is the path asked for, `requestId` the id of the request
 */
export function problemBody(
  slug: ProblemSlug,
  detail: string,
  context: { base: string; instance: string; requestId: string },
  extensions: Readonly<Record<string, unknown>> = {},
): Record<string, unknown> {
  const { title, status } = PROBLEMS[slug];
  return {
    ...extensions,
    type: `${context.base}/problems/${slug}`,
    title,
    status,
    detail,
    instance: context.instance,
    code: slug,
    requestId: context.requestId,
  };
}
