const TIMEOUT_MS = 15_000;

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

/**
 * Calls of one server.
 *
 * @throws Error from each call that is not answered with success, naming the call and what the server said
 */
export function apiClient(baseUrl: string): Call {
  const root = baseUrl.replace(/\/+$/, '');
  return async (method, path, request = {}) => {
    const response = await send(root + path, method, request);
    const text = await response.text();
    if (!response.ok) {
      throw new Error(`${method} ${path} was answered with ${response.status}: ${text.slice(0, 600)}`);
    }
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

/** Does something for each of many, at most `width` at a time; stops at the first failure. */
export async function forEachOf<T>(many: readonly T[], width: number, act: (one: T) => Promise<void>): Promise<void> {
  const waiting = many.values();
  const worker = async (): Promise<void> => {
    for (const one of waiting) await act(one);
  };
  await Promise.all(Array.from({ length: width }, worker));
}
