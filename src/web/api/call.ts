import { currentLanguage } from '../shared/text.ts';
import type { Operation, Shape } from './operation.ts';
import type { Problem } from './operations.ts';

/** How long a phone waits for an answer before it says that there is none. */
const TIMEOUT_MS = 15_000;

/** The server answered with a refusal, told as a problem document (RFC 9457). */
export class ApiProblem extends Error {
  readonly problem: Problem;
  readonly status: number;
  /** of what the refusal was about, with 412 and 428 */
  readonly etag: string | undefined;
  /** seconds, when the server says when to try again */
  readonly retryAfter: number | undefined;

  constructor(problem: Problem, response: Response) {
    super(problem.detail ?? problem.title);
    this.name = 'ApiProblem';
    this.problem = problem;
    this.status = response.status;
    this.etag = response.headers.get('etag') ?? undefined;
    const seconds = Number(response.headers.get('retry-after') ?? Number.NaN);
    this.retryAfter = Number.isFinite(seconds) ? seconds : undefined;
  }
}

/** No answer, or none that can be read: the network, the server or something between them. What was sent may have arrived. */
export class Unreachable extends Error {
  constructor(cause: unknown) {
    super('unreachable', { cause });
    this.name = 'Unreachable';
  }
}

/** Whether the same request may succeed later without a change. */
export function isTransient(error: unknown): boolean {
  if (error instanceof Unreachable) return true;
  return error instanceof ApiProblem && (error.status === 429 || error.status >= 500);
}

type Member<K extends string, T> = undefined extends T ? { [P in K]?: T } : { [P in K]: T };
/** A group of parameters may be left out when each of them may. */
type Group<K extends string, T> = T extends undefined
  ? { [P in K]?: undefined }
  : Partial<T> extends T
    ? { [P in K]?: T }
    : { [P in K]: T };

export type Input<S extends Shape> = Group<'params', S['params']> &
  Group<'query', S['query']> &
  Group<'headers', S['headers']> &
  Member<'body', S['body']>;

/** An answer that is a success; `status` tells which. */
export type Reply<S extends Shape> = {
  [Status in keyof S['answers']]: {
    status: Status;
    body: S['answers'][Status];
    etag: string | undefined;
    /** the server's clock when it answered, to the second; undefined when it does not say */
    date: Date | undefined;
    headers: Headers;
  };
}[keyof S['answers']];

export interface CallOptions {
  /** of the server, without a path; absent: where the page is from */
  base?: string;
  /** absent: that of the page */
  language?: string;
  token?: string | undefined;
  signal?: AbortSignal;
  timeoutMs?: number;
  /** media type of a body that is text or bytes */
  type?: string;
  /** media type of the answer, where there are several */
  accept?: string;
  /** what is at the address never changes: the browser may keep it */
  mayBeKept?: boolean;
}

interface AnyInput {
  params?: Shape['params'];
  query?: object | undefined;
  headers?: object | undefined;
  body?: unknown;
}

/**
 * Sends one operation of the API.
 *
 * @throws ApiProblem when the server refuses
 * @throws Unreachable without an answer in time
 */
export async function call<S extends Shape>(
  operation: Operation<S>,
  input: Input<S>,
  options: CallOptions = {},
): Promise<Reply<S>> {
  const { params, query, body }: AnyInput = input;
  const { signal, timeoutMs = TIMEOUT_MS } = options;
  const timeout = AbortSignal.timeout(timeoutMs);
  const address = `${options.base ?? ''}${addressOf(operation.path, params, query)}`;
  const headers = headersOf(input, options);
  const asked = operation.method === 'GET' ? takeEarly(address, headers) : undefined;
  const made =
    asked ??
    fetch(address, {
      method: operation.method,
      headers,
      ...(body === undefined ? {} : { body: isRaw(body) ? body : JSON.stringify(body) }),
      cache: options.mayBeKept === true ? 'default' : 'no-store',
      credentials: 'omit',
      signal: signal === undefined ? timeout : AbortSignal.any([signal, timeout]),
    });
  const response = await made.catch((error: unknown) => {
    throw new Unreachable(error);
  });
  if (!response.ok && response.status !== 304) throw new ApiProblem(await problemIn(response), response);
  return replyOf(response, await bodyIn(response)) as Reply<S>;
}

/** What a page asked for before this script was there (`garage/early.ts`): each answer is for one call. */
function takeEarly(address: string, headers: Headers): Promise<Response> | undefined {
  const { gridworthyEarly: early } = globalThis as { gridworthyEarly?: Map<string, Promise<Response>> };
  const key = `${address}\n${headers.get('authorization')}\n${headers.get('accept-language')}`;
  const found = early?.get(key);
  early?.delete(key);
  return found;
}

function headersOf(
  { headers = {}, body }: AnyInput,
  { token, accept, type = 'application/json', language = currentLanguage() }: CallOptions,
): Headers {
  const sent = new Headers({ 'accept-language': language });
  // The generated types allow nothing but text in a header.
  for (const [name, value] of Object.entries(headers)) if (value !== undefined) sent.set(name, value as string);
  if (token !== undefined) sent.set('authorization', `Bearer ${token}`);
  if (accept !== undefined) sent.set('accept', accept);
  if (body !== undefined) sent.set('content-type', type);
  return sent;
}

const isRaw = (body: unknown): body is string | Blob => typeof body === 'string' || body instanceof Blob;

export function addressOf(path: string, params: Shape['params'], query: object | undefined): string {
  const filled = path.replace(/\{(\w+)\}/g, (_, name: string) => encodeURIComponent(String(params?.[name])));
  const search = new URLSearchParams();
  for (const [name, value] of Object.entries(query ?? {})) if (value !== undefined) search.set(name, String(value));
  return search.size === 0 ? filled : `${filled}?${search.toString()}`;
}

async function bodyIn(response: Response): Promise<unknown> {
  if (response.status === 204 || response.status === 304) return undefined;
  const type = response.headers.get('content-type') ?? '';
  try {
    return /[/+]json\b/.test(type) ? await response.json() : await response.blob();
  } catch (error) {
    throw new Unreachable(error);
  }
}

/** What stands between us and the server may refuse in words of its own. */
export async function problemIn(response: Response): Promise<Problem> {
  const body: unknown = await response.json().catch(() => undefined);
  if (typeof body === 'object' && body !== null && 'code' in body) return body as Problem;
  throw new Unreachable(new Error(`HTTP ${response.status}`));
}

function replyOf(response: Response, body: unknown) {
  const date = new Date(response.headers.get('date') ?? Number.NaN);
  return {
    status: response.status,
    body,
    etag: response.headers.get('etag') ?? undefined,
    date: Number.isNaN(date.getTime()) ? undefined : date,
    headers: response.headers,
  };
}
