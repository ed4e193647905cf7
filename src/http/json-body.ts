import type { IncomingHttpHeaders } from 'node:http';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { jsonPointer } from '../domain/json-pointer.ts';
import { findUnstorable, type Unstorable } from './json-object.ts';
import { ProblemError } from './problem.ts';
import { utf8Text } from './text-body.ts';

const TYPES = ['application/json', 'application/merge-patch+json'];

/**
 * Reads JSON bodies with Fastify's own parser, and three things more: merge patches are
 * JSON too; an operation that takes no body does not mind an empty one; and what the database could not give back as it
 * was sent is refused here, naming the place, rather than there as a failure of ours.
 *
 * Bytes that are not UTF-8 (RFC 8259, section 8.1) and bodies of any type that are compressed are refused.
 */
export function installJsonBody(app: FastifyInstance): void {
  app.addHook('preParsing', async (request) => refuseCoding(request.headers));
  // Keys that could change what an object is are refused below, with their place.
  const parse = app.getDefaultJsonParser('ignore', 'ignore');
  app.removeContentTypeParser('application/json');
  app.addContentTypeParser(TYPES, { parseAs: 'buffer' }, (request, body, done) => {
    const text = utf8Text(request, Buffer.from(body), 'JSON');
    if (typeof text !== 'string') {
      done(text);
      return;
    }
    if (text === '' && takesNoBody(request)) {
      done(null, undefined);
      return;
    }
    void parse(request, text, (error, value) => {
      const fault = error === null ? findUnstorable(value) : undefined;
      if (fault === undefined) done(error, value);
      else done(unstorable(fault));
    });
  });
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
