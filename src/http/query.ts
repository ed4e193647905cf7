import { parse } from 'node:querystring';
import type { FastifyInstance } from 'fastify';
import { ProblemError } from './problem.ts';

/** Longer than any query of ours: a cursor and a few filters. */
const MAX_QUERY_LENGTH = 4096;
const MAX_PAIRS = 50;

const isTooLong = (query: string): boolean =>
  query.length > MAX_QUERY_LENGTH || query.split('&', MAX_PAIRS + 1).length > MAX_PAIRS;

/** Reads a query. One that is too long is not read at all; `installQueryLimit` refuses the request. */
export function parseQuery(query: string): Record<string, unknown> {
  return isTooLong(query) ? {} : { ...parse(query) };
}

/** Refuses a query that nothing here asks for, before anything is done for it. */
export function installQueryLimit(app: FastifyInstance): void {
  app.addHook('onRequest', async ({ url }) => {
    const start = url.indexOf('?');
    if (start === -1 || !isTooLong(url.slice(start + 1))) return;
    const detail = `In the query: it may have ${MAX_PAIRS} values and ${MAX_QUERY_LENGTH} characters.`;
    throw new ProblemError('invalid-request', detail, {
      errors: [{ pointer: '', code: 'too-long', detail: 'The query is too long.', in: 'query' }],
    });
  });
}
