import type { FastifyInstance, FastifyRequest } from 'fastify';
import { isUtf8 } from 'node:buffer';
import type { IncomingHttpHeaders } from 'node:http';
import { jsonPointer } from '../../domain/json-pointer.ts';
import type { Threads } from '../../platform/threads/threads.ts';
import { callerKey } from '../access/shed-load.ts';
import { ProblemError } from '../frame/problem.ts';
import { inThread, URGENCY } from './in-thread.ts';
import { findUntakeable, jsonBodyTask, type Unstorable } from './json-object.ts';

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
