import type { Recorded } from './history.ts';

export interface Call {
  method: 'GET' | 'POST' | 'DELETE';
  path: string;
  token: string;
  body?: unknown;
  /** instead of a body in JSON */
  csv?: string;
  key?: string;
}

export interface Reply {
  status: number;
  body: Record<string, unknown>;
  /** whether it says when to come back */
  retryAfter: boolean;
}

/** What a caller learns from one try: an answer, or that nobody listened (so nothing happened), or nothing at all. */
export type Try = Reply | 'nobody-there' | 'no-answer';

const PATIENCE_MS = 4000;

/** A caller that remembers which of the servers answered last, and turns to the next one when one does not. */
export interface Caller {
  /** One try. A 5xx is an answer, though it says nothing of what happened. */
  once(call: Call): Promise<Try>;
  /**
   * Tries until there is an answer that binds (below 500), at most for `forMs`. Only for calls with an Idempotency-Key.
   * `doubtful`: an earlier try may have happened, or may still happen.
   */
  untilAnswered(call: Call, forMs: number): Promise<{ last: Try; doubtful: boolean }>;
}

export function newCaller(bases: readonly string[], first: number, record: Recorded): Caller {
  let at = first;
  const count = (status: number) => record.statuses.set(status, (record.statuses.get(status) ?? 0) + 1);
  const once = async (call: Call) => {
    const reply = await send(bases[at % bases.length] ?? '', call).catch(noReply);
    if (reply === 'nobody-there') return turn(reply);
    count(reply === 'no-answer' ? 0 : reply.status);
    if (reply === 'no-answer') return turn(reply);
    if (reply.status >= 500) {
      if (!isProblem(reply))
        record.absurd.push(`${call.path}: ${reply.status} does not say what it is or when to come back`);
      return turn(reply);
    }
    if (reply.status !== 200 && reply.body['admit'] === true)
      record.absurd.push(`${call.path}: ${reply.status} admits`);
    return reply;
  };
  const turn = <T>(reply: T): T => {
    at += 1;
    return reply;
  };
  return {
    once,
    async untilAnswered(call, forMs) {
      const deadline = performance.now() + forMs;
      let doubtful = false;
      for (let tries = 1; ; tries += 1) {
        const last = await once(call);
        if (typeof last === 'object' && last.status < 500 && last.status !== 429) return { last, doubtful };
        if (last !== 'nobody-there') doubtful = true;
        if (performance.now() > deadline) return { last, doubtful };
        await pause(Math.min(100 * tries, 500));
      }
    },
  };
}

function noReply(error: unknown): 'nobody-there' | 'no-answer' {
  const { code } = ((error as Error).cause ?? {}) as { code?: string };
  return code === 'ECONNREFUSED' ? 'nobody-there' : 'no-answer';
}

async function send(base: string, { method, path, token, body, csv, key }: Call): Promise<Reply> {
  const response = await fetch(base + path, {
    method,
    headers: {
      authorization: `Bearer ${token}`,
      ...(body === undefined ? {} : { 'content-type': 'application/json' }),
      ...(csv === undefined ? {} : { 'content-type': 'text/csv' }),
      ...(key === undefined ? {} : { 'idempotency-key': key }),
    },
    ...(body === undefined ? {} : { body: JSON.stringify(body) }),
    ...(csv === undefined ? {} : { body: csv }),
    signal: AbortSignal.timeout(PATIENCE_MS),
  });
  const text = await response.text();
  return { status: response.status, body: bodyOf(text), retryAfter: response.headers.has('retry-after') };
}

// What is no JSON is an answer all the same, and one that the checks must see.
function bodyOf(text: string): Record<string, unknown> {
  try {
    return text === '' ? {} : (JSON.parse(text) as Record<string, unknown>);
  } catch {
    return {};
  }
}

/** A problem document (RFC 9457); one that is over soon says so (RFC 9110, 15.6.4: a server MAY send Retry-After). */
const isProblem = ({ status, body, retryAfter }: Reply) =>
  typeof body['code'] === 'string' && (status !== 503 || retryAfter);

export const pause = (ms: number) => new Promise<void>((resolve) => setTimeout(resolve, ms));
