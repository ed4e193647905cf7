import { ApiProblem, call, Unreachable } from '../api/call.ts';
import type { Operation } from '../api/operation.ts';
import type { Worked } from './result.tsx';

/** What came of asking: a result, places that cannot be, or no answer. */
export type Asked =
  | { kind: 'worked'; worked: Worked; body: Record<string, unknown> }
  /** by JSON Pointer into the body, in English */
  | { kind: 'refused'; refused: Readonly<Record<string, string>>; says: string }
  | { kind: 'no-network' };

type Calculate = Operation<{
  params: undefined;
  query: undefined;
  headers: undefined;
  body: Record<string, unknown>;
  answers: { 200: Worked };
}>;

/** Has the server work one out. A computation is known by its name, so that one operation does for all. */
export async function ask(name: string, body: Record<string, unknown>, token: string): Promise<Asked> {
  const calculate: Calculate = { method: 'POST', path: `/v1/calculations/${encodeURIComponent(name)}` };
  try {
    return { kind: 'worked', worked: (await call(calculate, { body }, { token })).body, body };
  } catch (error) {
    if (error instanceof Unreachable) return { kind: 'no-network' };
    if (!(error instanceof ApiProblem)) throw error;
    const errors = error.problem.errors ?? [];
    const refused = Object.fromEntries(errors.map(({ pointer, detail }) => [pointer ?? '', detail]));
    return { kind: 'refused', refused, says: error.message };
  }
}
