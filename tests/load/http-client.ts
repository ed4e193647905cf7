import { Agent, type IncomingMessage, request } from 'node:http';

export interface Call {
  method: 'GET' | 'POST';
  path: string;
  token: string;
  body?: unknown;
  key?: string;
}

/** What came of a request. Status 0: no answer. */
export interface Reply {
  status: number;
  ms: number;
  body: Record<string, unknown>;
  /** whether the answer says when to come back */
  retryAfter: boolean;
}

export interface Client {
  ask(call: Call): Promise<Reply>;
  close(): void;
}

const PATIENCE_MS = 30_000;
const CONNECTIONS = 6;

/**
 * Plain requests on kept connections. Each person (token) has a device of his own, which opens as many connections as
 * browsers do; what has to wait for one of them has been waiting since it was asked.
 */
export function openClient(base: string): Client {
  const { hostname, port } = new URL(base);
  const devices = new Map<string, Agent>();
  const deviceOf = (token: string) => {
    const known = devices.get(token) ?? new Agent({ keepAlive: true, maxSockets: CONNECTIONS });
    devices.set(token, known);
    return known;
  };
  return {
    ask: (call) => ask({ agent: deviceOf(call.token), hostname, port }, call),
    close() {
      for (const device of devices.values()) device.destroy();
    },
  };
}

function ask(where: { agent: Agent; hostname: string; port: string }, call: Call): Promise<Reply> {
  const text = call.body === undefined ? undefined : JSON.stringify(call.body);
  const headers = {
    authorization: `Bearer ${call.token}`,
    ...(text === undefined ? {} : { 'content-type': 'application/json', 'content-length': Buffer.byteLength(text) }),
    ...(call.key === undefined ? {} : { 'idempotency-key': call.key }),
  };
  const from = performance.now();
  return new Promise((resolve) => {
    const none = () => resolve({ status: 0, ms: performance.now() - from, body: {}, retryAfter: false });
    const { method, path } = call;
    const asking = request({ ...where, method, path, headers, timeout: PATIENCE_MS }, (answer) => {
      read(answer).then(
        (body) => {
          const retryAfter = answer.headers['retry-after'] !== undefined;
          resolve({ status: answer.statusCode ?? 0, ms: performance.now() - from, body, retryAfter });
        },
        () => none(),
      );
    });
    asking.on('timeout', () => asking.destroy());
    asking.on('error', none);
    asking.end(text);
  });
}

async function read(answer: IncomingMessage): Promise<Record<string, unknown>> {
  const parts: Buffer[] = [];
  for await (const part of answer) parts.push(part as Buffer);
  const text = Buffer.concat(parts).toString();
  return text === '' ? {} : (JSON.parse(text) as Record<string, unknown>);
}
