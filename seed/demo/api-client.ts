import { setTimeout as sleep } from 'node:timers/promises';

const TIMEOUT_MS = 60_000;
/** How long one call is tried again while the server says that it has too much to do. */
const PATIENCE_MS = 180_000;
const LONGEST_WAIT_MS = 30_000;

/** A call that the server answered, but not with success. */
export class CallRefused extends Error {
  readonly status: number;
  readonly body: Readonly<Record<string, unknown>>;

  constructor(call: string, status: number, text: string) {
    super(`${call} was answered with ${status}: ${text.slice(0, 600)}`);
    this.name = 'CallRefused';
    this.status = status;
    this.body = isJson(text) ? parseBody(text) : {};
  }
}

export interface ApiAnswer {
  status: number;
  body: Readonly<Record<string, unknown>>;
  etag: string | undefined;
  /** the server's clock */
  at: Date;
}

export interface ApiRequest {
  token?: string;
  body?: unknown;
  ifMatch?: string;
  idempotencyKey?: string;
}

export type Call = (method: string, path: string, request?: ApiRequest) => Promise<ApiAnswer>;

function headersOf(request: ApiRequest): Record<string, string> {
  return {
    accept: 'application/json',
    ...(request.token !== undefined && { authorization: `Bearer ${request.token}` }),
    ...(request.body !== undefined && { 'content-type': 'application/json' }),
    ...(request.ifMatch !== undefined && { 'if-match': request.ifMatch }),
    ...(request.idempotencyKey !== undefined && { 'idempotency-key': request.idempotencyKey }),
  };
}

function isJson(text: string): boolean {
  try {
    JSON.parse(text);
    return true;
  } catch {
    return false;
  }
}

function parseBody(text: string): Readonly<Record<string, unknown>> {
  if (text === '') return {};
  const parsed: unknown = JSON.parse(text);
  return typeof parsed === 'object' && parsed !== null ? (parsed as Record<string, unknown>) : {};
}

async function send(url: string, method: string, request: ApiRequest): Promise<Response> {
  try {
    return await fetch(url, {
      method,
      headers: headersOf(request),
      ...(request.body !== undefined && { body: JSON.stringify(request.body) }),
      signal: AbortSignal.timeout(TIMEOUT_MS),
    });
  } catch (error) {
    throw new Error(`${method} ${url} did not answer; is the server running there?`, { cause: error });
  }
}

/** Asks again, as often and as late as the server says, while it is busy: 429 and 503 mean that nothing was done. */
async function sendPatiently(url: string, method: string, request: ApiRequest): Promise<Response> {
  const until = performance.now() + PATIENCE_MS;
  for (;;) {
    const response = await send(url, method, request);
    const waitMs = (response.status === 429 || response.status === 503) && retryAfterMs(response);
    if (waitMs === false || performance.now() + waitMs > until) return response;
    await response.body?.cancel();
    await sleep(waitMs);
  }
}

/** `Retry-After` in milliseconds (RFC 9110, section 10.2.3: seconds or a date); false without one. */
function retryAfterMs(response: Response): number | false {
  const value = response.headers.get('retry-after');
  if (value === null) return false;
  const ms = /^\d+$/.test(value) ? Number(value) * 1000 : Date.parse(value) - Date.now();
  return Number.isNaN(ms) ? false : Math.min(Math.max(ms, 100), LONGEST_WAIT_MS);
}

/**
 * Calls of one server. A server that is busy is asked again when it says so.
 *
 * @throws CallRefused or Error from each call that is not answered with success, naming the call and what the server said
 */
export function apiClient(baseUrl: string): Call {
  const root = baseUrl.replace(/\/+$/, '');
  return async (method, path, request = {}) => {
    const response = await sendPatiently(root + path, method, request);
    const text = await response.text();
    if (!response.ok) throw new CallRefused(`${method} ${path}`, response.status, text);
    return {
      status: response.status,
      body: parseBody(text),
      etag: response.headers.get('etag') ?? undefined,
      at: new Date(response.headers.get('date') ?? Date.now()),
    };
  };
}

/** A text property of an answer. @throws Error when the server answered without it */
export function textOf(answer: ApiAnswer, name: string): string {
  const value = answer.body[name];
  if (typeof value === 'string') return value;
  throw new Error(`the server answered without ${name}: ${JSON.stringify(answer.body).slice(0, 300)}`);
}

/** A list of objects of an answer. @throws Error when the server answered without it */
export function listOf(answer: ApiAnswer, name: string): readonly Readonly<Record<string, unknown>>[] {
  const value = answer.body[name];
  if (Array.isArray(value)) return value as readonly Readonly<Record<string, unknown>>[];
  throw new Error(`the server answered without the list ${name}`);
}

/** Does something for each of many, at most `width` at a time; after a failure nothing more is begun. */
export async function forEachOf<T>(many: readonly T[], width: number, act: (one: T) => Promise<void>): Promise<void> {
  const waiting = [...many];
  const worker = async (): Promise<void> => {
    try {
      for (let one = waiting.shift(); one !== undefined; one = waiting.shift()) await act(one);
    } catch (error) {
      waiting.length = 0;
      throw error;
    }
  };
  // What runs beside a failure ends first, so that nothing happens any more when this is over.
  const ends = await Promise.allSettled(Array.from({ length: width }, worker));
  for (const end of ends) if (end.status === 'rejected') throw end.reason;
}
