import { ApiProblem, call, type CallOptions, type Input, isTransient, type Reply, Unreachable } from './call.ts';
import type { Operation, Shape } from './operation.ts';

/** Which server is called, by whom, and how patiently. */
export interface ClientSettings {
  /** of the server, without a path: `https://tech.example.org` */
  address: string;
  /** as the office mints it; absent: only what everybody may read */
  token?: string;
  /** language of texts in answers; `en` unless told */
  language?: 'en' | 'de';
  /** tries after the first of what may succeed later; 3 unless told */
  retries?: number;
  /** wait before the first of them, in milliseconds, doubled with each; `Retry-After` of the server counts where it is longer */
  waitMs?: number;
}

export interface Client {
  /**
   * Sends one operation. A POST gets an `Idempotency-Key` where it has none, so that a repeat creates nothing twice.
   *
   * @throws ApiProblem when the server refuses
   * @throws Unreachable without an answer in time, after the retries
   */
  call<S extends Shape>(operation: Operation<S>, input: Input<S>, options?: CallOptions): Promise<Reply<S>>;
  /** The pages of a list, one after the other. */
  pages<S extends Shape>(operation: Operation<S>, input: Input<S>): AsyncGenerator<Reply<S>>;
}

/** What a caller may wait for a server that asks for patience, in seconds. */
const LONGEST_WAIT_S = 60;

/** A client of one server. */
export function openClient({ address, retries = 3, waitMs = 500, ...fixed }: ClientSettings): Client {
  const base = address.replace(/\/+$/, '');
  const send: Client['call'] = async (operation, input, options = {}) => {
    const keyed = withKey(operation, input);
    for (let tries = 0; ; tries += 1) {
      try {
        return await call(operation, keyed, { base, language: 'en', ...fixed, ...options });
      } catch (error) {
        if (tries >= retries || options.signal?.aborted === true || !mayRepeat(operation, error)) throw error;
        await wait(Math.max(waitMs * 2 ** tries, secondsAsked(error) * 1000));
      }
    }
  };
  return {
    call: send,
    async *pages(operation, input) {
      let cursor: unknown;
      do {
        const query = { ...(input as { query?: object }).query, ...(cursor === undefined ? {} : { cursor }) };
        // The cursor is a part of the query of every list, which the compiler cannot know of this one.
        const page = await send(operation, { ...input, query });
        yield page;
        cursor = (page.body as { next?: string }).next;
      } while (cursor !== undefined);
    },
  };
}

function withKey<S extends Shape>({ method }: Operation<S>, input: Input<S>): Input<S> {
  const { headers } = input as { headers?: Record<string, unknown> };
  if (method !== 'POST' || headers?.['idempotency-key'] !== undefined) return input;
  return { ...input, headers: { ...headers, 'idempotency-key': crypto.randomUUID() } };
}

/** What got no answer may have been done: a change with `If-Match` would be refused the second time, and look as if it had failed. */
function mayRepeat<S extends Shape>({ method }: Operation<S>, error: unknown): boolean {
  if (error instanceof Unreachable) return method === 'GET' || method === 'POST';
  return isTransient(error) && (error as ApiProblem).status !== 500;
}

const secondsAsked = (error: unknown): number =>
  error instanceof ApiProblem ? Math.min(error.retryAfter ?? 0, LONGEST_WAIT_S) : 0;

const wait = (ms: number) => new Promise<void>((resolve) => setTimeout(resolve, ms));

export { ApiProblem, type CallOptions, type Input, type Reply, Unreachable } from './call.ts';
export type { Operation, Shape } from './operation.ts';
export * from './operations.ts';
