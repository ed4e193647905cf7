import type { FastifyInstance } from 'fastify';
import { createHash } from 'node:crypto';
import { parse } from 'node:querystring';
import type { z } from 'zod';
import { canonicalJson } from '../../platform/canonical-json.ts';
import { ProblemError } from './problem.ts';

/** Longer than any query of ours: a cursor and a few filters. */
const MAX_QUERY_LENGTH = 4096;
const MAX_PAIRS = 50;

const isTooLong = (query: string): boolean =>
  query.length > MAX_QUERY_LENGTH || query.split('&', MAX_PAIRS + 1).length > MAX_PAIRS;

/** Reads a query. One that is too long is not read at all; `installQueryLimit` refuses the request. */
export function parseQuery(query: string): Record<string, unknown> {
  return query === '' || isTooLong(query) ? {} : { ...parse(query) };
}

/** Refuses a query that nothing here asks for, before anything is done for it. */
export function installQueryLimit(app: FastifyInstance): void {
  app.addHook('onRequest', ({ url }, _reply, done) => {
    const start = url.indexOf('?');
    if (start === -1 || !isTooLong(url.slice(start + 1))) return done();
    const detail = `In the query: it may have ${MAX_PAIRS} values and ${MAX_QUERY_LENGTH} characters.`;
    throw new ProblemError('invalid-request', detail, {
      errors: [{ pointer: '', code: 'too-long', detail: 'The query is too long.', in: 'query' }],
    });
  });
}

/** What a cursor belongs to: a list with its filters. The page size is not a filter: it may change between pages. */
export interface CursorScope {
  /** operation id of the list */
  list: string;
  /** everything that decides which rows the list has, path ids included */
  filters: Readonly<Record<string, unknown>>;
}

export interface Page<T> {
  rows: T[];
  /** cursor of the next page; absent on the last one */
  next?: string;
  /** `Link` with `rel="next"` (RFC 8288) while there is a next page */
  headers: Record<string, string>;
}

const SEAL_LENGTH = 16;

/**
 * Writes an opaque cursor: the sort key of the last row that was given out, sealed with the list and its filters. The
 * seal finds changed or misplaced cursors; it is no secret, because whoever may read a list may start anywhere in it.
 */
export function encodeCursor(scope: CursorScope, position: readonly unknown[]): string {
  const payload = Buffer.from(JSON.stringify(position)).toString('base64url');
  return `${payload}.${sealOf(scope, payload)}`;
}

/**
 * Reads a cursor back to the sort key of the row to go on after; undefined when the caller starts at the front.
 *
 * @param position what the sort key must look like
 * @throws ProblemError `cursor-not-valid` when it was changed, or was given out for another list or other filters
 */
export function decodeCursor<T>(scope: CursorScope, cursor: string | undefined, position: z.ZodType<T>): T | undefined {
  if (cursor === undefined) return undefined;
  const [payload = '', seal, ...rest] = cursor.split('.');
  if (rest.length > 0 || seal !== sealOf(scope, payload)) throw notValid();
  const parsed = position.safeParse(parseJson(payload));
  if (!parsed.success) throw notValid();
  return parsed.data;
}

/**
 * Makes a page of rows that were read with one row more than `limit`: the extra row tells that there is a next page.
 *
 * @param options `url` is the address that was asked, with its query; `positionOf` the sort key of a row
 */
export function toPage<T>(
  rows: readonly T[],
  options: { scope: CursorScope; limit: number; url: string; positionOf(row: T): readonly unknown[] },
): Page<T> {
  const kept = rows.slice(0, options.limit);
  const last = kept.at(-1);
  if (rows.length <= options.limit || last === undefined) return { rows: kept, headers: {} };
  const next = encodeCursor(options.scope, options.positionOf(last));
  const [path = '', query] = options.url.split('?', 2);
  const params = new URLSearchParams(query);
  params.set('cursor', next);
  return { rows: kept, next, headers: { link: `<${path}?${params.toString()}>; rel="next"` } };
}

function sealOf(scope: CursorScope, payload: string): string {
  const text = canonicalJson({ list: scope.list, filters: scope.filters, payload });
  return createHash('sha256').update(text).digest('base64url').slice(0, SEAL_LENGTH);
}

function parseJson(payload: string): unknown {
  try {
    return JSON.parse(Buffer.from(payload, 'base64url').toString('utf8'));
  } catch {
    // Not JSON is one more way of being no cursor; the caller's schema refuses undefined.
    return undefined;
  }
}

function notValid(): ProblemError {
  return new ProblemError(
    'cursor-not-valid',
    'Start from the first page, or use `next` as it was given, with the same filters.',
  );
}
