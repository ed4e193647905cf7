import { z } from 'zod';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { isUtf8 } from 'node:buffer';
import type { IncomingHttpHeaders } from 'node:http';
import { defineThreadTask } from '../../platform/threads/thread.ts';
import { jsonPointer } from '../../domain/json-pointer.ts';
import type { Threads } from '../../platform/threads/threads.ts';
import { callerKey } from '../access/guards.ts';
import { ProblemError } from '../frame/problem.ts';
import { inThread, URGENCY } from './in-thread.ts';

/** More than any request of ours has, and few enough to be judged one by one where requests are answered. */
const MAX_MEMBERS = 2000;
const MAX_ELEMENTS = 5000;
const MAX_VALUES = 100_000;

type Path = (string | number)[];

interface Counted {
  values: number;
}

const sizeFault = (value: object): string | undefined => {
  if (Array.isArray(value)) return value.length > MAX_ELEMENTS ? `has more than ${MAX_ELEMENTS} elements` : undefined;
  return Object.keys(value).length > MAX_MEMBERS ? `has more than ${MAX_MEMBERS} members` : undefined;
};

/** Depth is bounded by `findUnstorable`, which has looked before. */
function findTooMany(value: unknown, path: Path, counted: Counted): Unstorable | undefined {
  counted.values += 1;
  if (counted.values > MAX_VALUES) return { path: [], message: `holds more than ${MAX_VALUES} values` };
  if (typeof value !== 'object' || value === null) return undefined;
  const fault = sizeFault(value);
  if (fault !== undefined) return { path: [...path], message: fault };
  for (const [key, part] of Object.entries(value)) {
    path.push(Array.isArray(value) ? Number(key) : key);
    const found = findTooMany(part, path, counted);
    if (found !== undefined) return found;
    path.pop();
  }
  return undefined;
}

/** Finds what keeps a JSON body from being taken: what could not be stored, or more parts than a request may have. */
export function findUntakeable(value: unknown): Unstorable | undefined {
  return findUnstorable(value) ?? findTooMany(value, [], { values: 0 });
}

const MAX_DEPTH = 40;

/** Any JSON object. What could not be stored and read back unchanged never gets this far: see below. */
export const JsonObject = z.record(z.string(), z.unknown());
export type JsonObject = z.infer<typeof JsonObject>;

/** What PostgreSQL would not give back as it was sent, and where. */
interface Unstorable {
  path: (string | number)[];
  message: string;
  /** kind of fault; `not-storable` unless told */
  code?: string;
}

/**
 * Finds what PostgreSQL would not give back as it was sent: numbers too large to represent (they would turn to null),
 * text it cannot store (U+0000, half of a surrogate pair) and nesting that could exhaust the stack.
 */
export function findUnstorable(value: unknown, path: (string | number)[] = []): Unstorable | undefined {
  if (path.length > MAX_DEPTH) return { path, message: `must not be nested more than ${MAX_DEPTH} levels deep` };
  if (typeof value === 'string') return isStorableText(value) ? undefined : { path, message: BAD_TEXT };
  if (typeof value === 'number') return Number.isFinite(value) ? undefined : { path, message: 'is too large a number' };
  return typeof value === 'object' && value !== null ? findInMembers(value, path) : undefined;
}

function findInMembers(value: object, path: (string | number)[]): Unstorable | undefined {
  for (const [key, part] of Object.entries(value)) {
    if (isForbiddenKey(key, part)) return { path: [...path, key], message: FORBIDDEN, code: 'forbidden-key' };
    if (!isStorableText(key)) return { path, message: `has a key that ${BAD_TEXT}` };
    const fault = findUnstorable(part, [...path, Array.isArray(value) ? Number(key) : key]);
    if (fault !== undefined) return fault;
  }
  return undefined;
}

const FORBIDDEN = 'is a key that would change what the object is; no object may have it';

/** `__proto__`, and `constructor` with a `prototype`: what reads such an object may be changed by it. */
function isForbiddenKey(key: string, part: unknown): boolean {
  if (key === '__proto__') return true;
  return key === 'constructor' && typeof part === 'object' && part !== null && Object.hasOwn(part, 'prototype');
}

const BAD_TEXT = 'must not hold U+0000 or half of a surrogate pair';

function isStorableText(text: string): boolean {
  // oxlint-disable-next-line no-control-regex -- this control character is exactly what is refused
  return !/[\u0000\p{Surrogate}]/u.test(text);
}

/** What is wrong with a body: it is no JSON, or not JSON that can be taken. */
export type BodyFault = { malformed: string } | Unstorable;

/** Looks at a large JSON body before it is read where requests are answered. */
export const jsonBodyTask = defineThreadTask<string, BodyFault | undefined>({
  name: 'body.look',
  processorMs: 1500,
  clockMs: 20_000,
  run(text) {
    let value: unknown;
    try {
      value = JSON.parse(text);
    } catch (error) {
      return { malformed: error instanceof Error ? error.message : String(error) };
    }
    return findUntakeable(value);
  },
});

/** Up to here a body is looked at where it arrives: that takes a millisecond, whatever is in it. */
const SMALL_BYTES = 64 * 1024;

const TYPES = ['application/json', 'application/merge-patch+json'];

/**
 * Reads JSON bodies with Fastify's own parser, and three things more: merge patches are
 * JSON too; an operation that takes no body does not mind an empty one; and what the database could not give back as it
 * was sent is refused here, naming the place, rather than there as a failure of ours.
 *
 * Bytes that are not UTF-8 (RFC 8259, section 8.1) and bodies of any type that are compressed are refused. Large ones
 * are looked at in a thread first: what is then read here is known to have few parts and little depth.
 */
export function installJsonBody(app: FastifyInstance, threads: Threads): void {
  app.addHook('preParsing', (request, _reply, _payload, done) => {
    refuseCoding(request.headers);
    done();
  });
  // Keys that could change what an object is are refused below, with their place.
  const parse = app.getDefaultJsonParser('ignore', 'ignore');
  app.removeContentTypeParser('application/json');
  const read = (request: FastifyRequest, text: string) =>
    new Promise<unknown>((resolve, reject) => {
      void parse(request, text, (error, value) => (error === null ? resolve(value) : reject(error)));
    });
  app.addContentTypeParser(TYPES, { parseAs: 'buffer' }, async (request: FastifyRequest, body: Buffer) => {
    const text = utf8Text(request, body, 'JSON');
    if (typeof text !== 'string') throw text;
    if (text === '' && takesNoBody(request)) return undefined;
    if (body.length > SMALL_BYTES) {
      await lookInThread(threads, request, text);
      return read(request, text);
    }
    const value = await read(request, text);
    const fault = findUntakeable(value);
    if (fault !== undefined) throw unstorable(fault);
    return value;
  });
}

async function lookInThread(threads: Threads, request: FastifyRequest, text: string): Promise<void> {
  const asked = { caller: callerKey(request), urgency: URGENCY.body };
  const fault = await inThread(threads, jsonBodyTask, text, asked);
  if (fault === undefined) return;
  if (!('malformed' in fault)) throw unstorable(fault);
  throw new ProblemError('malformed-json', `The body could not be read: ${fault.malformed}.`);
}

/** Nothing here unpacks, so a coding that is announced would be read as what it is not (RFC 9110, section 8.4). */
function refuseCoding({ 'content-encoding': coding = 'identity', ...headers }: IncomingHttpHeaders): void {
  const hasBody = headers['transfer-encoding'] !== undefined || Number(headers['content-length'] ?? 0) > 0;
  if (!hasBody || coding.trim().toLowerCase() === 'identity') return;
  const detail = 'Send the body without Content-Encoding.';
  throw new ProblemError('unsupported-media-type', detail, {}, { 'accept-encoding': 'identity' });
}

function takesNoBody(request: FastifyRequest): boolean {
  const { operation } = request.routeOptions.config;
  return request.routeOptions.schema?.body === undefined || operation?.bodyOptional === true;
}

function unstorable({ path, message, code = 'not-storable' }: Unstorable): ProblemError {
  const pointer = jsonPointer(path);
  return new ProblemError('invalid-request', `In the body: ${pointer || '/'}: ${message}`, {
    errors: [{ pointer, code, detail: message, in: 'body' }],
  });
}

const LINE_FEED = 10;

/**
 * Makes the routes of this plugin read bodies of one text media type as UTF-8 and refuse every other. Bytes that are not
 * UTF-8 are refused, not replaced: a name must not lose its letters on the way in.
 */
export function installTextBody(app: FastifyInstance, mediaType: string): void {
  app.removeAllContentTypeParsers();
  addTextBody(app, mediaType);
}

/** The same beside what else the routes of this plugin read. */
export function addTextBody(app: FastifyInstance, mediaType: string): void {
  app.addContentTypeParser(mediaType, { parseAs: 'buffer' }, (request, body, done) => {
    const text = utf8Text(request, Buffer.from(body), mediaType);
    if (typeof text === 'string') done(null, text);
    else done(text);
  });
}

/** A body as text, or the problem with it: another charset is announced, or the bytes are no UTF-8. */
function utf8Text(request: FastifyRequest, bytes: Buffer, mediaType: string): string | ProblemError {
  const charset = /;\s*charset="?([^";\s]+)/i.exec(request.headers['content-type'] ?? '')?.[1]?.toLowerCase();
  if (charset !== undefined && charset !== 'utf-8' && charset !== 'us-ascii') {
    return new ProblemError('unsupported-media-type', `Send ${mediaType} in UTF-8, not in ${charset}.`);
  }
  return isUtf8(bytes) ? bytes.toString('utf8') : notUtf8(bytes);
}

function notUtf8(bytes: Buffer): ProblemError {
  let line = 1;
  let start = 0;
  let end = bytes.indexOf(LINE_FEED);
  // No other character of UTF-8 has this byte in it, so the lines can be tested one by one.
  while (end !== -1 && isUtf8(bytes.subarray(start, end))) {
    line += 1;
    start = end + 1;
    end = bytes.indexOf(LINE_FEED, start);
  }
  const detail = `Line ${line} is not UTF-8. Save the file as UTF-8 and send it again.`;
  return new ProblemError('invalid-request', `In the body: ${detail}`, {
    errors: [{ pointer: '', code: 'not-utf-8', detail, in: 'body' }],
  });
}
