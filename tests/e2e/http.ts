/** One request to a running server. */
export interface Call {
  method?: 'GET' | 'POST' | 'PUT' | 'DELETE';
  path: string;
  token?: string;
  body?: unknown;
  headers?: Record<string, string>;
}

export interface Answer {
  status: number;
  headers: Headers;
  body: Record<string, unknown>;
}

/** Sends a request and reads the JSON of the answer; rejects only when there is no answer at all. */
export async function send(base: string, call: Call): Promise<Answer> {
  const response = await fetch(base + call.path, {
    method: call.method ?? 'GET',
    headers: {
      ...(call.token === undefined ? {} : { authorization: `Bearer ${call.token}` }),
      ...(call.body === undefined ? {} : { 'content-type': 'application/json' }),
      ...call.headers,
    },
    ...(call.body === undefined ? {} : { body: JSON.stringify(call.body) }),
    signal: AbortSignal.timeout(20_000),
  });
  const text = await response.text();
  const body = text === '' ? {} : (JSON.parse(text) as Record<string, unknown>);
  return { status: response.status, headers: response.headers, body };
}

/** Sends a request that must succeed with this status; the error shows what came instead. */
export async function sendOk(base: string, call: Call, status = 201): Promise<Record<string, unknown>> {
  const answer = await send(base, call);
  if (answer.status !== status) {
    const said = JSON.stringify(answer.body);
    throw new Error(`${call.method ?? 'GET'} ${call.path}: ${answer.status} instead of ${status}: ${said}`);
  }
  return answer.body;
}
